package doctor

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

var ctx = context.Background()

// bench is a collection with two photos that were measured and kept.
func bench(t *testing.T) (*collection.Collection, *series.Store, []*record.Photo) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench [1]*")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	c, err := collection.Open(dir)
	require.NoError(t, err)
	s, err := series.Open(c.StorePath())
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	var photos []*record.Photo
	for _, name := range []string{"a.jpg", "b.jpg"} {
		src := c.Path(collection.InboxDir, name)
		require.NoError(t, os.WriteFile(src, []byte("pixels of "+name), 0o644))
		sum, err := collection.HashFile(src)
		require.NoError(t, err)
		p := &record.Photo{Name: name, Path: src, SHA256: sum, Bytes: int64(len("pixels of " + name)), Status: record.Accepted, SettingsKey: "k",
			Taken: record.Stamp{Time: time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC), Source: "exif"}}
		require.NoError(t, s.Put(ctx, p))
		_, err = c.Archive(p, src)
		require.NoError(t, err)
		photos = append(photos, p)
	}
	return c, s, photos
}

func examine(t *testing.T, c *collection.Collection, s *series.Store, o Options) []Finding {
	t.Helper()
	require.NoError(t, c.Reload())
	o.Now = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	found, err := Examine(ctx, c, s, nil, o)
	require.NoError(t, err)
	return found
}

func TestAHealthyCollectionHasNoFindings(t *testing.T) {
	c, s, _ := bench(t)
	assert.Empty(t, examine(t, c, s, Options{Full: true}))
	assert.Equal(t, Level(""), worst(nil))
}

func TestWhatIsFoundAndMended(t *testing.T) {
	for _, tt := range []struct {
		name   string
		hurt   func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo)
		o      Options
		level  Level
		where  string
		mended bool
	}{
		{"missing file", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.Remove(c.Path(collection.EventsFile)))
		}, Options{}, Note, "events.csv", true},
		{"missing folder", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.Remove(c.Path(collection.ReportsDir)))
		}, Options{}, Note, "reports/", true},
		{"bad line", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.WriteFile(c.Path(collection.PlantsFile), []byte("number\nseven\n"), 0o644))
		}, Options{}, Fault, "plants.csv line 2", false},
		{"unfinished file", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.WriteFile(c.Path(collection.PhotosDir, "2026-05", ".phototrack-1.tmp"), []byte("x"), 0o644))
		}, Options{}, Note, "photos/2026-05/.phototrack-1.tmp", true},
		{"original gone", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.Remove(c.Path(collection.ArchivePath(p))))
		}, Options{}, Fault, "-a.jpg", true},
		{"original gone everywhere", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, os.Remove(c.Path(collection.ArchivePath(p))))
			require.NoError(t, os.Remove(p.Path))
		}, Options{}, Fault, "-a.jpg", false},
		{"original of another size", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			path := c.Path(collection.ArchivePath(p))
			require.NoError(t, os.Remove(path))
			require.NoError(t, os.WriteFile(path, []byte("cut"), 0o644))
		}, Options{}, Harm, "-a.jpg", true},
		{"original damaged within", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			path := c.Path(collection.ArchivePath(p))
			require.NoError(t, os.Remove(path))
			require.NoError(t, os.WriteFile(path, []byte("Pixels of a.jpg"), 0o644))
		}, Options{Full: true}, Harm, "-a.jpg", true},
		{"photo from the future", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			p.Taken.Time = time.Date(2062, 5, 14, 0, 0, 0, 0, time.UTC)
			require.NoError(t, s.Put(ctx, p))
		}, Options{}, Note, "a.jpg", false},
		{"correction of nothing", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, c.AppendCorrection(collection.Correction{Photo: "zz.jpg", Field: collection.FieldExclude}))
		}, Options{}, Note, "corrections.csv line 2", false},
		{"marks of nothing", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {
			require.NoError(t, c.SaveMarks(strings.Repeat("0", 64), "zz.jpg", nil))
		}, Options{}, Note, "marks/000000000000-zz.jpg.json", false},
		{"other settings", func(t *testing.T, c *collection.Collection, s *series.Store, p *record.Photo) {},
			Options{KeyOf: func(*record.Photo) string { return "other" }}, Note, "phototrack.db", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, s, photos := bench(t)
			tt.hurt(t, c, s, photos[0])
			found := examine(t, c, s, tt.o)
			require.Len(t, found, 1)
			assert.Equal(t, tt.level, found[0].Level)
			assert.Contains(t, found[0].Where, tt.where)
			assert.Equal(t, tt.level, worst(found))
			assert.Equal(t, tt.mended, found[0].Repair != "")
			if !tt.mended {
				assert.Empty(t, Repair(ctx, found))
				return
			}
			require.Equal(t, 1, repairable(found))
			results := Repair(ctx, found)
			require.Len(t, results, 1)
			require.NoError(t, results[0].Err)
			if tt.level != Harm { // a damaged original stays for a person to look at, with the good one beside it
				assert.Empty(t, examine(t, c, s, tt.o))
			} else {
				rel := collection.ArchivePath(photos[0])
				sum, err := collection.HashFile(c.Path(strings.TrimSuffix(rel, ".jpg") + " (2).jpg"))
				require.NoError(t, err)
				assert.Equal(t, photos[0].SHA256, sum)
				after := examine(t, c, s, tt.o)
				require.Len(t, after, 1)
				assert.Equal(t, Note, after[0].Level, "no harm is left once the good one is kept")
			}
			content, err := os.ReadFile(photos[0].Path)
			require.NoError(t, err)
			assert.Equal(t, "pixels of a.jpg", string(content), "the inbox is never touched")
		})
	}
}

func TestAStoreThatCannotBeOpenedIsAFinding(t *testing.T) {
	c, _, _ := bench(t)
	cause := &fsx.HintError{What: "the store", Hint: "Restore a backup.", Err: series.ErrDamaged}
	found, err := Examine(ctx, c, nil, cause, Options{})
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, Harm, found[0].Level)
	assert.Equal(t, "Restore a backup.", found[0].Hint)
	assert.True(t, errors.Is(cause, series.ErrDamaged))

	found, err = Examine(ctx, c, nil, nil, Options{})
	require.NoError(t, err)
	assert.Empty(t, found, "nothing has been measured yet")
}

// A record with a flipped bit is named, and the repair has the photo measured again; nothing is written before that.
func TestADamagedRecordIsNamedAndMeasuredAgain(t *testing.T) {
	c, s, photos := bench(t)
	require.NoError(t, s.Close())
	data, err := os.ReadFile(c.StorePath())
	require.NoError(t, err)
	at := strings.LastIndex(string(data), `"status":"accepted"`)
	require.Positive(t, at)
	data[at+11] ^= 1
	require.NoError(t, os.WriteFile(c.StorePath(), data, 0o644))
	s, done, err := series.OpenToExamine(c.StorePath(), false)
	require.NoError(t, err)
	found := examine(t, c, s, Options{})
	done()
	require.NotEmpty(t, found)
	assert.Equal(t, Harm, found[0].Level)
	assert.Contains(t, found[0].What, "record")
	require.NotEmpty(t, found[0].Repair)

	s, err = series.Open(c.StorePath())
	require.NoError(t, err)
	defer s.Close()
	found = examine(t, c, s, Options{})
	for _, r := range Repair(ctx, found) {
		require.NoError(t, r.Err)
	}
	due, err := s.ToRemeasure(ctx)
	require.NoError(t, err)
	require.Len(t, due, 1)
	assert.True(t, due[photos[0].SHA256] || due[photos[1].SHA256])
}

func TestAnEditThatWasCutOffIsFound(t *testing.T) {
	c, s, _ := bench(t)
	require.NoError(t, os.WriteFile(c.Path(fsx.JournalFile), []byte(`{"What":"a change of events.csv"}`), 0o644))
	found := examine(t, c, s, Options{})
	require.Len(t, found, 1)
	assert.Contains(t, found[0].What, "a change of events.csv was cut off")
	for _, r := range Repair(ctx, found) {
		require.NoError(t, r.Err)
	}
	assert.Empty(t, examine(t, c, s, Options{}))
}

func TestAKeptOriginalThatIsTheInboxsFileIsFound(t *testing.T) {
	c, s, photos := bench(t)
	path := c.Path(filepath.FromSlash(collection.ArchivePath(photos[0])))
	require.NoError(t, os.Remove(path))
	require.NoError(t, os.Link(photos[0].Path, path))
	found := examine(t, c, s, Options{})
	require.Len(t, found, 1)
	assert.Contains(t, found[0].What, "one file")
	for _, r := range Repair(ctx, found) {
		require.NoError(t, r.Err)
	}
	assert.Empty(t, examine(t, c, s, Options{}))
}

func TestALostStoreIsFound(t *testing.T) {
	c, s, _ := bench(t)
	require.NoError(t, s.Close())
	require.NoError(t, os.Remove(c.StorePath()))
	found := examine(t, c, nil, Options{})
	require.Len(t, found, 1)
	assert.Equal(t, Harm, found[0].Level)
	assert.Contains(t, found[0].Hint, "--anew")
}

// repairable counts the findings that the program can mend.
func repairable(found []Finding) int {
	n := 0
	for _, f := range found {
		if f.mend != nil {
			n++
		}
	}
	return n
}

// worst gives the highest level among findings, "" where there are none.
func worst(found []Finding) Level {
	rank := map[Level]int{Note: 1, Fault: 2, Harm: 3}
	levels := make([]Level, 0, len(found))
	for _, f := range found {
		levels = append(levels, f.Level)
	}
	sort.Slice(levels, func(i, j int) bool { return rank[levels[i]] > rank[levels[j]] })
	if len(levels) == 0 {
		return ""
	}
	return levels[0]
}
