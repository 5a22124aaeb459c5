package intake

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// TestMain lets this program play a worker that refuses every photo, as it has no card.
func TestMain(m *testing.M) {
	if len(os.Args) > 2 && os.Args[1] == "worker" {
		c, err := collection.Open(os.Args[2])
		if err != nil {
			panic(err)
		}
		pipeline.Serve(os.Stdin, os.Stdout, c, func() { os.Exit(3) })
		return
	}
	os.Exit(m.Run())
}

// bench is a collection with a store, and options whose workers are this program.
func bench(t *testing.T) (*collection.Collection, *series.Store, Options) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	c, err := collection.Open(dir)
	require.NoError(t, err)
	st, err := series.Open(c.StorePath())
	require.NoError(t, err)
	t.Cleanup(func() { st.Close() })
	return c, st, Options{Pool: pipeline.Pool{Command: []string{os.Args[0], "worker", dir}, Workers: 1, Limit: time.Minute}}
}

func drop(t *testing.T, c *collection.Collection, name string, grey uint8) {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 640, 480))
	for i := range m.Pix {
		m.Pix[i] = grey + uint8(i%7)
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	require.NoError(t, os.WriteFile(filepath.Join(c.Inbox(), name), b.Bytes(), 0o644))
}

func TestARunMeasuresEachContentOnce(t *testing.T) {
	c, st, o := bench(t)
	drop(t, c, "2026-05-14 a.jpg", 120)
	drop(t, c, "2026-05-14 b.jpg", 120) // the same content
	drop(t, c, "c.jpg", 140)            // without a date
	res, err := Run(context.Background(), c, st, o)
	require.NoError(t, err)
	assert.Equal(t, []int{3, 1, 2}, []int{res.Found, res.Known, len(res.Measured)})
	res, err = Run(context.Background(), c, st, o)
	require.NoError(t, err)
	assert.Equal(t, []int{3, 3, 0}, []int{res.Found, res.Known, len(res.Measured)})

	// A day that is given now is for the photo without one; it is written down with the corrections.
	o.GivenDate = record.Stamp{Time: time.Date(2026, 5, 20, 12, 0, 0, 0, time.UTC), Source: "given"}
	res, err = Run(context.Background(), c, st, o)
	require.NoError(t, err)
	require.Len(t, res.Measured, 1)
	assert.Equal(t, "2026-05-20", res.Measured[0].Taken.Day())
	require.Len(t, c.Corrections, 1)
	assert.Equal(t, collection.FieldDate, c.Corrections[0].Field)
	assert.Empty(t, Due(c, all(t, st)), "the line alone makes nothing due again")
}

// A photo that is refused for its size keeps the limits that refused it, whichever way it came in: under other limits it is due.
func TestBothSinksKeepTheLimits(t *testing.T) {
	c, st, o := bench(t)
	drop(t, c, "2026-05-14 a.jpg", 120)
	path := filepath.Join(c.Inbox(), "2026-05-14 a.jpg")
	require.NoError(t, os.Truncate(path, 2_000_000))
	narrow(t, c, 1)
	part, results := Part{1, 1}, t.TempDir()
	res, err := RunPart(context.Background(), c, part, results, o)
	require.NoError(t, err)
	require.Len(t, res.Measured, 1)
	require.True(t, (&res.Measured[0]).HasReason(gate.TooLarge))
	res, err = RunPart(context.Background(), c, part, results, o)
	require.NoError(t, err)
	assert.Empty(t, res.Measured, "it is known to the folder")
	merged, err := Merge(context.Background(), c, st, results)
	require.NoError(t, err)
	require.Len(t, merged.Measured, 1)
	assert.Empty(t, merged.Missing)
	assert.Empty(t, Due(c, all(t, st)))
	res, err = Run(context.Background(), c, st, o)
	require.NoError(t, err)
	assert.Empty(t, res.Measured, "it is known to the store")
	narrow(t, c, 400)
	assert.Len(t, Due(c, all(t, st)), 1)
	res, err = RunPart(context.Background(), c, part, results, o)
	require.NoError(t, err)
	assert.Len(t, res.Measured, 1)
}

func all(t *testing.T, st *series.Store) []record.Photo {
	t.Helper()
	photos, err := st.All(context.Background())
	require.NoError(t, err)
	return photos
}

// narrow sets the size of file that is opened.
func narrow(t *testing.T, c *collection.Collection, mb int) {
	t.Helper()
	require.NoError(t, os.WriteFile(c.Path(collection.SettingsFile), fmt.Appendf(nil, "[run]\nmax_file_mb = %d\n", mb), 0o644))
	require.NoError(t, c.Reload())
}

// A photo whose original is gone keeps its numbers when it is due, and is named; the others are measured again. A bad photo that was
// taken away is not asked for.
func TestAPhotoWhoseOriginalIsGoneStays(t *testing.T) {
	c, st, o := bench(t)
	for i, name := range []string{"a", "b", "c"} {
		drop(t, c, "2026-05-14 "+name+".jpg", uint8(120+20*i))
	}
	_, err := Run(context.Background(), c, st, o)
	require.NoError(t, err)
	before := all(t, st)
	require.Len(t, before, 3)
	for i := range 2 { // drawn photos have no card: a grower's would have
		before[i].Status = record.Accepted
		require.NoError(t, st.Put(context.Background(), &before[i]))
	}
	gone, here, bad := &before[0], &before[1], &before[2]
	for _, p := range []*record.Photo{gone, bad} {
		kept, ok := c.Original(p)
		require.True(t, ok)
		require.NoError(t, os.Remove(kept))
		require.NoError(t, os.Remove(p.Path))
	}
	require.NoError(t, os.WriteFile(c.Path(collection.SettingsFile), []byte("[measurement]\nslope_deg = 12\n"), 0o644))
	require.NoError(t, c.Reload())
	res, err := Run(context.Background(), c, st, o)
	require.NoError(t, err)
	assert.Equal(t, []string{gone.Name}, res.Gone)
	require.Len(t, res.Measured, 1)
	assert.Equal(t, here.Name, res.Measured[0].Name)
	assert.Len(t, all(t, st), 3)
	res, err = Run(context.Background(), c, st, o)
	require.NoError(t, err)
	assert.Empty(t, res.Measured)
	assert.Equal(t, []string{gone.Name}, res.Gone, "said again, though nothing is measured")

	_, err = Again(c, &record.Photo{Name: "a.jpg", SHA256: collection.Hash([]byte("a")), Path: filepath.Join(t.TempDir(), "a.jpg")})
	require.ErrorIs(t, err, ErrGone)
}
