package publish

import (
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/series"
)

// small is a stored collection of the sample lists and a few sample photos.
type small struct {
	c  *collection.Collection
	st *series.Store
}

var smallPhotos = []string{"012_2026-03_L.jpg", "012_2026-04_L.jpg", "012_2026-05_L.jpg", "031_2026-04_R.jpg", "031_2026-05_R.jpg", "044_2026-05_L.jpg"}

// measured keeps the measured photos for all tests.
var measured = map[string]record.Photo{}

// measureSmall makes a collection of so many of the photos in a folder of its own and stores them measured.
func measureSmall(t testing.TB, photos int) small {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	for _, f := range []string{"plants", "events", "watch", "cards"} {
		data, err := os.ReadFile("../../samples/" + f + ".csv")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, f+".csv"), data, 0o644))
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	st, err := series.Open(c.StorePath())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	for _, name := range smallPhotos[:photos] {
		p, ok := measured[name]
		if !ok {
			data, err := os.ReadFile("../../samples/photos/" + name)
			require.NoError(t, err)
			p = pipeline.Measure(data, pipeline.Job{Name: name, Pictures: true}, c)
			measured[name] = p
		}
		p.SettingsKey = c.InputsKey(pipeline.MeasuringVersion, &p)
		require.NoError(t, st.Put(context.Background(), &p))
	}
	return small{c, st}
}

// due says whether the latest report has to be written.
func (s small) due(t *testing.T, version string) bool {
	t.Helper()
	photos, err := s.st.All(context.Background())
	require.NoError(t, err)
	from, to, folder, err := Period{}.resolve(photos)
	require.NoError(t, err)
	return !openKept(s.c.ReportDir(folder)).whole(Source{s.c, s.st, photos, version}.fingerprint(from, to))
}

// contentsWithout are contents but for some.
func contentsWithout(t *testing.T, dir string, some map[string][32]byte) map[string][32]byte {
	t.Helper()
	out := contents(t, dir)
	for n := range some {
		delete(out, n)
	}
	return out
}

// contents maps every file below a folder to a hash of its bytes, the store's own files left out.
func contents(t testing.TB, dir string) map[string][32]byte {
	t.Helper()
	out := map[string][32]byte{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.Contains(d.Name(), ".db") {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = sha256.Sum256(data)
		return err
	}))
	return out
}

func names[V any](m map[string]V) []string {
	var out []string
	for n := range m {
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}

// reportFiles are the files of the report of May, by the names that others rely on.
var reportFiles = []string{
	".made-from", "changes.csv", "counts.csv", "datapackage.json", "dictionary.html", "digest.csv", "events_effect.csv", "events_pooled.csv", "index.html", "measurements.csv",
	"months.csv", "parts.csv", "plants/012.html", "plants/017.html", "plants/023.html", "plants/031.html", "plants/044.html", "plants/045.html", "plates/012_leaf.png", "plates/031_root.png", "plates/031_wall.png", "plates/collection.pdf", "sessions.csv", "trends.csv",
}

func TestReportOfASmallCollection(t *testing.T) {
	s := measureSmall(t, len(smallPhotos))
	ctx := context.Background()
	before := contents(t, s.c.Dir)
	assert.True(t, s.due(t, "test"))

	out, err := Report(ctx, s.c, s.st, Period{}, "test")
	require.NoError(t, err)
	made := contents(t, s.c.Dir)

	t.Run("files stand where they should and nowhere else", func(t *testing.T) {
		assert.Equal(t, filepath.Join(s.c.Dir, "reports", "2026-05", "index.html"), out.Index, "the latest month with a photo")
		var want []string
		for _, f := range reportFiles {
			want = append(want, "reports/2026-05/"+f)
		}
		want = append(want, "reports/index.html")
		for n, sum := range before {
			assert.Equal(t, sum, made[n], "%s is the grower's", n)
			delete(made, n)
		}
		assert.Equal(t, want, names(made))
	})
	t.Run("the page names its files", func(t *testing.T) {
		page, err := os.ReadFile(out.Index)
		require.NoError(t, err)
		roots, err := os.ReadFile(filepath.Join(filepath.Dir(out.Index), "plants", "031.html"))
		require.NoError(t, err)
		leaves, err := os.ReadFile(filepath.Join(filepath.Dir(out.Index), "plants", "012.html"))
		require.NoError(t, err)
		for _, f := range reportFiles[1:] {
			named := strings.Contains(string(page), `href="`+f+`"`) || strings.Contains(string(roots)+string(leaves), `href="../`+f+`"`)
			assert.True(t, named || f == "index.html", "%s is named", f)
		}
		assert.NotContains(t, string(page)+string(roots), s.c.Dir, "no path of this computer")
	})
	t.Run("tables are as the dictionary says", func(t *testing.T) { checkTables(t, filepath.Dir(out.Index)) })
	t.Run("headlines", func(t *testing.T) { assert.NotEmpty(t, out.Headlines) })
	t.Run("nothing is due a second time", func(t *testing.T) {
		require.False(t, s.due(t, "test"))
		again, err := Report(ctx, s.c, s.st, Period{}, "test")
		require.NoError(t, err)
		assert.Equal(t, Output{Index: out.Index, Unchanged: true}, again)
		assert.Equal(t, made, contentsWithout(t, s.c.Dir, before))
		assert.True(t, s.due(t, "test 2"), "another program may report otherwise")
	})
	t.Run("what is not as it was written is due", func(t *testing.T) {
		for _, f := range reportFiles {
			path := filepath.Join(filepath.Dir(out.Index), f)
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			require.NoError(t, os.Remove(path))
			assert.True(t, s.due(t, "test"), "%s is gone", f)
			require.NoError(t, os.WriteFile(path, append([]byte("x"), data...), 0o600))
			assert.True(t, s.due(t, "test"), "%s is another", f)
			require.NoError(t, os.WriteFile(path, data, 0o600))
		}
		assert.False(t, s.due(t, "test"))
	})
	t.Run("made again it is the same", func(t *testing.T) {
		first := contents(t, filepath.Dir(out.Index))
		require.NoError(t, os.Remove(filepath.Join(filepath.Dir(out.Index), fingerprintFile))) // or all would be left
		_, err := Report(ctx, s.c, s.st, Period{Month: "2026-05"}, "test")
		require.NoError(t, err)
		again := contents(t, filepath.Dir(out.Index))
		assert.Equal(t, names(first), names(again))
		for n := range first {
			if filepath.Ext(n) == ".csv" || filepath.Ext(n) == ".png" {
				assert.Equal(t, first[n], again[n], "%s to the byte", n)
			}
		}
	})
}

// checkTables holds every CSV file against the fields of datapackage.json: names, order, and as many cells in each row.
func checkTables(t *testing.T, dir string) {
	data, err := os.ReadFile(filepath.Join(dir, "datapackage.json"))
	require.NoError(t, err)
	var pack struct {
		Resources []struct {
			Path   string
			Schema struct{ Fields []struct{ Name string } }
		}
	}
	require.NoError(t, json.Unmarshal(data, &pack))
	assert.Len(t, pack.Resources, 10)
	for _, r := range pack.Resources {
		f, err := os.Open(filepath.Join(dir, r.Path))
		require.NoError(t, err)
		rows, err := csv.NewReader(f).ReadAll() // also fails on rows of unequal length
		f.Close()
		require.NoError(t, err, r.Path)
		var fields []string
		for _, f := range r.Schema.Fields {
			fields = append(fields, f.Name)
		}
		assert.Equal(t, fields, rows[0], r.Path)
		if r.Path == "measurements.csv" {
			assert.Greater(t, len(rows), 6*5, "several quantities of each photo")
		}
	}
}

func TestAReportThatCannotBeWrittenLeavesTheOldOne(t *testing.T) {
	s := measureSmall(t, 2)
	ctx := context.Background()
	out, err := Report(ctx, s.c, s.st, Period{}, "test")
	require.NoError(t, err)
	dir := filepath.Dir(out.Index)
	old := contents(t, dir)
	for _, c := range []struct{ name, blocked string }{{"a plate", "plates/012_leaf.png"}, {"a table", "sessions.csv"}, {"the page", "index.html"}} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(dir, filepath.FromSlash(c.blocked))
			require.NoError(t, os.Rename(path, path+".aside"))
			require.NoError(t, os.MkdirAll(filepath.Join(path, "in the way"), 0o755)) // no file can take a full folder's place
			_, err := Report(ctx, s.c, s.st, Period{}, "test 2")
			require.Error(t, err)
			assert.True(t, s.due(t, "test 2"), "it is still due")
			require.NoError(t, os.RemoveAll(path))
			require.NoError(t, os.Rename(path+".aside", path))
			now := contents(t, dir)
			assert.Equal(t, names(old), names(now), "nothing half written lies about")
			assert.Equal(t, old["index.html"], now["index.html"], "the page is the old one")
		})
	}
	gone, stop := context.WithCancel(ctx)
	stop()
	_, err = Report(gone, s.c, s.st, Period{}, "test 2")
	require.Error(t, err)
	assert.Equal(t, names(old), names(contents(t, dir)))
}

func TestPeriods(t *testing.T) {
	s := measureSmall(t, len(smallPhotos))
	ctx := context.Background()
	for _, c := range []struct {
		name   string
		p      Period
		folder string
		fault  string
	}{
		{"a month", Period{Month: "2026-04"}, "2026-04", ""},
		{"a range", Period{From: "2026-03-01", To: "2026-04-30"}, "2026-03-01_2026-04-30", ""},
		{"from a day on", Period{From: "2026-04-01"}, "2026-04-01_2026-05-09", ""},
		{"no month", Period{Month: "April"}, "", "not a month"},
		{"no date", Period{From: "yesterday"}, "", "not a date"},
		{"out of the folder", Period{Month: "../../2026-04"}, "", "not a month"},
		{"backwards", Period{From: "2026-05-01", To: "2026-04-01"}, "", "before it begins"},
	} {
		t.Run(c.name, func(t *testing.T) {
			photos, err := s.st.All(ctx)
			require.NoError(t, err)
			_, _, folder, err := c.p.resolve(photos)
			if c.fault != "" {
				require.ErrorContains(t, err, c.fault)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.folder, folder)
		})
	}
}

// A camera whose clock is wrong does not move the report: its photo's month is not the latest one.
func TestADateInDoubtMovesNoReport(t *testing.T) {
	at := func(day string, codes ...record.GateCode) record.Photo {
		d, err := time.Parse(time.DateOnly, day)
		require.NoError(t, err)
		p := record.Photo{Taken: record.Stamp{Time: d, Source: "exif"}, Status: record.Accepted}
		for _, c := range codes {
			p.Status, p.Reasons = record.Flagged, append(p.Reasons, record.Reason{Code: c})
		}
		return p
	}
	sound := []record.Photo{at("2026-04-11"), at("2026-05-09")}
	doubtful := []record.Photo{at("2062-07-11", gate.DateFuture), at("9999-12-31", gate.DateFuture), at("1980-01-01", gate.DateEarly)}
	_, _, folder, err := Period{}.resolve(append(doubtful, sound...))
	require.NoError(t, err)
	assert.Equal(t, "2026-05", folder)
	from, to, _, err := Period{To: "2026-12-31"}.resolve(append(doubtful, sound...))
	require.NoError(t, err)
	assert.Equal(t, "2026-04-11 2026-12-31", from+" "+to)
	_, _, _, err = Period{}.resolve(doubtful)
	assert.ErrorIs(t, err, ErrNothing)
}

func TestExportsPlatesAndTheRoundStandAlone(t *testing.T) {
	s := measureSmall(t, len(smallPhotos))
	ctx := context.Background()
	before := contents(t, s.c.Dir)
	dir := filepath.Join(t.TempDir(), "out")

	files, err := Export(ctx, s.c, s.st, dir)
	require.NoError(t, err)
	assert.Len(t, files, 12)
	checkTables(t, dir)

	pages, err := Round(ctx, s.c, s.st, dir, "test")
	require.NoError(t, err)
	assert.Equal(t, []string{filepath.Join(dir, "round.html"), filepath.Join(dir, "round.pdf")}, pages)

	for _, c := range []struct {
		name  string
		o     PlateOptions
		want  string
		fault string
	}{
		{"a plant", PlateOptions{Plants: []int{12}, Preset: "wide"}, "plate_012_leaf_wide.png", ""},
		{"roots where there are no leaves", PlateOptions{Plants: []int{31}, Preset: "square"}, "plate_031_root_square.png", ""},
		{"two months of two plants", PlateOptions{Plants: []int{12, 44}, Preset: "a4", Dates: []string{"2026-03", "2026-05"}, PDF: true}, "plate_012_leaf_044_leaf_2026-03_2026-05.pdf", ""},
		{"moving", PlateOptions{Plants: []int{12}, Preset: "screen", Moving: true}, "plate_012_leaf.gif", ""},
		{"two moving", PlateOptions{Plants: []int{12, 44}, Preset: "screen", Moving: true}, "plate_012_leaf_044_leaf.gif", ""},
		{"no such preset", PlateOptions{Plants: []int{12}, Preset: "poster"}, "", "not a preset"},
		{"no such plant", PlateOptions{Plants: []int{99}, Preset: "wide"}, "", "not in plants.csv"},
		{"no photos", PlateOptions{Plants: []int{23}, Preset: "wide"}, "", "no photo that counts"},
		{"no photos on that date", PlateOptions{Plants: []int{12}, Preset: "wide", Dates: []string{"2025-01"}}, "", "no photo that counts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.o.Out = dir
			path, err := Plate(ctx, s.c, s.st, c.o)
			if c.fault != "" {
				require.ErrorContains(t, err, c.fault)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, filepath.Join(dir, c.want), path)
			assert.FileExists(t, path)
		})
	}
	words := func() string {
		s.c.Settings.Plates.Title = "Bench No. {{.Plant}}, {{.Events}}"
		path, err := Plate(ctx, s.c, s.st, PlateOptions{Plants: []int{12}, Preset: "a4", PDF: true, Out: dir})
		require.NoError(t, err)
		text, err := exec.Command(reftest.Tool(t, "pdftotext"), path, "-").Output()
		require.NoError(t, err)
		return string(text)
	}
	for i := range s.c.Plants {
		s.c.Plants[i].Name = ""
	}
	path, err := Plate(ctx, s.c, s.st, PlateOptions{Plants: []int{12, 44}, Preset: "a4", PDF: true, Out: dir})
	require.NoError(t, err)
	text, err := exec.Command(reftest.Tool(t, "pdftotext"), path, "-").Output()
	require.NoError(t, err)
	assert.Contains(t, string(text), "12 and 44\n", "plants without names")
	assert.Contains(t, words(), "Bench No. 12, repot, 18 April 2026", "the grower's templates")
	assert.Equal(t, before, contents(t, s.c.Dir), "nothing in the collection was touched")
}
