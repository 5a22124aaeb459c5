package publish

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/codec"
	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/raster"
)

// TestPlatesStayWhileNothingChanges changes one thing after another that plates are made from: those that show it are
// made anew, and no others; and what comes out is what a report in an empty folder comes to.
func TestPlatesStayWhileNothingChanges(t *testing.T) {
	s := measureSmall(t, len(smallPhotos))
	ctx := context.Background()
	all := []string{"012_leaf.png", "031_root.png", "031_wall.png", "collection.pdf"}
	var dir string
	report := func() {
		t.Helper()
		c, err := collection.Open(s.c.Dir)
		require.NoError(t, err)
		out, err := Report(ctx, c, s.st, Period{}, "test")
		require.NoError(t, err)
		dir = filepath.Join(filepath.Dir(out.Index), "plates")
	}
	path := func(name string) string { return filepath.Join(dir, name) }
	old := time.Now().Add(-time.Hour)
	remade := func() (out []string) {
		t.Helper()
		for _, name := range all {
			require.NoError(t, os.Chtimes(path(name), old, old))
		}
		report()
		for _, name := range all {
			info, err := os.Stat(path(name))
			require.NoError(t, err)
			if info.ModTime().After(old.Add(time.Minute)) {
				out = append(out, name)
			}
		}
		return out
	}
	edit := func(file, was, is string) {
		t.Helper()
		data, err := os.ReadFile(s.c.Path(file))
		require.NoError(t, err)
		require.Contains(t, string(data), was)
		require.NoError(t, os.WriteFile(s.c.Path(file), []byte(strings.Replace(string(data), was, is, 1)), 0o600))
	}
	report()
	assert.Empty(t, remade(), "nothing is new")

	require.NoError(t, os.WriteFile(path("012_leaf.png"), []byte("half a fi"), 0o600))
	assert.Equal(t, []string{"012_leaf.png"}, remade(), "a file that is not what was written")

	edit(collection.EventsFile, "\n", "\n2026-04-20,12,feed,a little\n")
	assert.Equal(t, []string{"012_leaf.png"}, remade(), "an event of one plant")

	plant, ok := s.c.Plant(31)
	require.True(t, ok)
	edit(collection.PlantsFile, plant.Name, "Renamed")
	assert.Equal(t, []string{"031_root.png", "031_wall.png", "collection.pdf"}, remade(), "the name of one plant")

	p := measured["012_2026-04_L.jpg"] // measured anew, and come out a little wider in one picture
	p.SettingsKey = "another"
	p.Pictures = map[string][]byte{}
	for k, v := range measured["012_2026-04_L.jpg"].Pictures {
		p.Pictures[k] = v
	}
	img := raster.NewBGR(1200, 900)
	data, err := codec.WriteJPEG(img, 92)
	require.NoError(t, err)
	p.Pictures[pipeline.PicturePlain] = data
	require.NoError(t, s.st.Put(ctx, &p))
	assert.Equal(t, []string{"012_leaf.png"}, remade(), "a picture in the middle of a plate")

	edit(collection.SettingsFile, `title = ""`, `title = "Another title"`)
	assert.Equal(t, all, remade(), "a word on all plates")
	assert.Empty(t, remade())

	kept := contents(t, dir)
	require.NoError(t, os.RemoveAll(filepath.Dir(dir)))
	report()
	fresh := contents(t, dir)
	delete(kept, "collection.pdf") // holds the time of its making
	delete(fresh, "collection.pdf")
	assert.Equal(t, fresh, kept, "what stayed is what would be made now")
}

// TestWithoutAHashNothingStays: a plate whose inputs cannot be told is made each time.
func TestWithoutAHashNothingStays(t *testing.T) {
	dir := t.TempDir()
	k := openKept(dir)
	require.NoError(t, k.write("a.png", "", []byte("a")))
	require.NoError(t, k.write("b.png", "from", []byte("b")))
	require.NoError(t, k.save(notDone))
	k = openKept(dir)
	assert.False(t, k.stays("a.png", ""))
	assert.False(t, k.stays("b.png", ""))
	assert.False(t, k.stays("b.png", "other"))
	assert.True(t, k.stays("b.png", "from"))
	assert.False(t, openKept(t.TempDir()).stays("b.png", "from"))
	in := newInputs(func() {})
	assert.Empty(t, in.sum(), "a function has no hash")
	assert.NotEqual(t, newInputs(1, "a").sum(), newInputs(1, "b").sum())
	assert.Equal(t, newInputs(1, "a").sum(), newInputs(1, "a").sum())
}
