package backup

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
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

// bench is a collection with lists, marks, a colour file in a folder of its own, a store and two photos.
func bench(t *testing.T) (*collection.Collection, *series.Store) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	write("plants.csv", "number,name\n12,Clivia\n")
	write("cards.csv", "from_date,across_mm,down_mm,colour_from,note\n,100,90,prints/first.txt,\n")
	write("prints/first.txt", "readings")
	write("notes of mine.txt", "no list of the program, and not to be lost")
	write("former/plants_2026-05-01_101500_aaaa.csv", "number\n")
	write("inbox/a.jpg", "pixels a")
	write("photos/2026-05/b.jpg", "pixels b")
	write("reports/2026-05/index.html", "made again from the rest")
	c, err := collection.Open(dir)
	require.NoError(t, err)
	sha := strings.Repeat("ab", 32)
	require.NoError(t, c.SaveMarks(sha, "a.jpg", []collection.Mark{{What: collection.MarkKeep, Rings: [][][2]float64{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}}))
	s, err := series.Open(c.StorePath())
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	require.NoError(t, s.Put(ctx, &record.Photo{SHA256: sha, Name: "a.jpg", Status: record.Accepted, Pictures: map[string][]byte{"plain": bytes.Repeat([]byte("picture"), 500)},
		Taken: record.Stamp{Time: time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), Source: "exif"}}))
	return c, s
}

func TestABackupComesBackIntoAnEmptyFolder(t *testing.T) {
	c, s := bench(t)
	file := filepath.Join(t.TempDir(), "plants.zip")
	sum, err := Write(ctx, c, s, file, Options{Photos: true, Program: "test"})
	require.NoError(t, err)
	assert.Equal(t, Summary{Lists: sum.Lists, Marks: 1, Photos: 2, Store: true, Bytes: sum.Bytes}, sum)
	assert.GreaterOrEqual(t, sum.Lists, 9)
	_, err = Write(ctx, c, s, file, Options{})
	require.ErrorIs(t, err, os.ErrExist, "a backup is never overwritten")

	to := filepath.Join(t.TempDir(), "again")
	assert.True(t, CanHold(to))
	_, err = Whole(ctx, file, to)
	require.NoError(t, err)
	for _, name := range []string{"plants.csv", "cards.csv", "prints/first.txt", "notes of mine.txt", "former/plants_2026-05-01_101500_aaaa.csv", "inbox/a.jpg", "photos/2026-05/b.jpg"} {
		want, err := os.ReadFile(c.Path(filepath.FromSlash(name)))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(to, filepath.FromSlash(name)))
		require.NoError(t, err, name)
		assert.Equal(t, want, got, name)
	}
	again, err := collection.Open(to)
	require.NoError(t, err)
	assert.Equal(t, c.Marks, again.Marks)
	assert.Empty(t, again.Settled)
	assert.DirExists(t, again.Path(collection.ReportsDir))
	st, err := series.OpenReader(again.StorePath())
	require.NoError(t, err)
	defer st.Close()
	photos, err := st.All(ctx)
	require.NoError(t, err)
	assert.Len(t, photos, 1)
	assert.False(t, CanHold(to))
	_, err = Whole(ctx, file, to)
	require.Error(t, err, "what is there is not overwritten")
	noTemps(t, filepath.Dir(file), to)
}

func noTemps(t *testing.T, dirs ...string) {
	t.Helper()
	for _, dir := range dirs {
		left, err := filepath.Glob(filepath.Join(dir, ".phototrack-*.tmp"))
		require.NoError(t, err)
		assert.Empty(t, left)
	}
}

func TestARestoreIntoACollectionKeepsWhatIsThere(t *testing.T) {
	c, s := bench(t)
	file := filepath.Join(t.TempDir(), "plants.zip")
	_, err := Write(ctx, c, s, file, Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, os.WriteFile(c.Path("plants.csv"), []byte("number,name\n12,Clivia\n13,new\n"), 0o644))
	require.NoError(t, os.RemoveAll(c.Path(collection.MarksDir)))
	r, err := Into(ctx, file, c)
	require.NoError(t, err)
	assert.Equal(t, []string{"plants.csv"}, r.Differ)
	require.Len(t, r.Brought, 1)
	assert.True(t, strings.HasPrefix(r.Brought[0], "marks/"))
	assert.FileExists(t, r.Kept)
	data, err := os.ReadFile(c.Path("plants.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(data), "13,new")
	noTemps(t, c.Dir)
}

// Every kind of damage to a backup is met before anything is restored from it.
func TestADamagedBackupIsRefused(t *testing.T) {
	c, s := bench(t)
	file := filepath.Join(t.TempDir(), "plants.zip")
	_, err := Write(ctx, c, s, file, Options{Photos: true})
	require.NoError(t, err)
	good, err := os.ReadFile(file)
	require.NoError(t, err)
	refused := func(name string, data []byte) {
		bad := filepath.Join(t.TempDir(), "bad.zip")
		require.NoError(t, os.WriteFile(bad, data, 0o644))
		_, err := Verify(ctx, bad)
		require.Error(t, err, name)
		assert.NotEmpty(t, fsx.HintOf(err), "%s: %v", name, err)
		to := filepath.Join(t.TempDir(), "to")
		_, err = Whole(ctx, bad, to)
		require.Error(t, err, name)
		assert.NoDirExists(t, to, name)
	}
	for _, at := range []int{1, 4, 2} {
		refused("cut off", good[:len(good)*at/5])
	}
	z, err := zip.NewReader(bytes.NewReader(good), int64(len(good)))
	require.NoError(t, err)
	for _, f := range z.File {
		at, err := f.DataOffset()
		require.NoError(t, err)
		flipped := bytes.Clone(good)
		flipped[at+int64(f.CompressedSize64)/2] ^= 4
		refused("a flipped bit in "+f.Name, flipped)
	}
	rewrite := func(change func(name string, data []byte) (string, []byte)) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(t, err)
			data, err := io.ReadAll(r)
			require.NoError(t, err)
			name, data := change(f.Name, data)
			if name == "" {
				continue
			}
			to, err := w.Create(name)
			require.NoError(t, err)
			_, err = to.Write(data)
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
		return b.Bytes()
	}
	refused("a list that was changed", rewrite(func(name string, data []byte) (string, []byte) {
		if name == "plants.csv" {
			data = append(data, "14,more\n"...)
		}
		return name, data
	}))
	refused("a file that is missing", rewrite(func(name string, data []byte) (string, []byte) {
		return strings.TrimPrefix(name, "cards.csv"), data
	}))
	refused("no list of files", rewrite(func(name string, data []byte) (string, []byte) {
		return strings.TrimPrefix(name, manifestName), data
	}))
	refused("a name that leads out of the folder", rewrite(func(name string, data []byte) (string, []byte) {
		if name == manifestName {
			return name, bytes.ReplaceAll(data, []byte(`"notes of mine.txt"`), []byte(`"../notes of mine.txt"`))
		}
		if name == "notes of mine.txt" {
			return "../" + name, data
		}
		return name, data
	}))
	noTemps(t, filepath.Dir(file))
}

func TestADamagedStoreIsNotBackedUp(t *testing.T) {
	c, s := bench(t)
	require.NoError(t, s.Close())
	data, err := os.ReadFile(c.StorePath())
	require.NoError(t, err)
	at := bytes.LastIndex(data, []byte("picturepicture"))
	require.Positive(t, at)
	data[at] ^= 1
	require.NoError(t, os.WriteFile(c.StorePath(), data, 0o644))
	s, err = series.OpenReader(c.StorePath())
	require.NoError(t, err)
	defer s.Close()
	file := filepath.Join(t.TempDir(), "plants.zip")
	_, err = Write(ctx, c, s, file, Options{})
	require.ErrorIs(t, err, series.ErrDamaged)
	assert.NoFileExists(t, file)
	noTemps(t, filepath.Dir(file))
}

// What a backup that was killed has left is cleared away by the next one.
func TestHalfABackupIsClearedAway(t *testing.T) {
	c, s := bench(t)
	home := t.TempDir()
	half := filepath.Join(home, ".phototrack-0-1.tmp")
	require.NoError(t, os.MkdirAll(half, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(half, "backup.zip"), []byte("half"), 0o644))
	_, err := Write(ctx, c, s, filepath.Join(home, "plants.zip"), Options{})
	require.NoError(t, err)
	assert.NoDirExists(t, half)
}
