package photo

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

func sceneDir(t testing.TB) string { return reftest.Path(t, "scenes", "series") }

// TestScenesAreRead reads rendered photos whose date, size and camera are known, two of them stored rotated.
func TestScenesAreRead(t *testing.T) {
	dir := sceneDir(t)
	for _, c := range []struct {
		name        string
		orientation int
		w, h        int
		date        string
	}{
		{"023_2026-04_L.jpg", 6, 1200, 1600, "2026-04"},
		{"031_2026-06_R.jpg", 6, 1200, 1600, "2026-06"},
		{"012_2026-03_L.jpg", 1, 1600, 1200, "2026-03"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, c.name))
			require.NoError(t, err)
			f, err := Read(data, Limits{})
			require.NoError(t, err)
			assert.Equal(t, c.orientation, f.Orientation)
			assert.Equal(t, c.w, f.WidthPx)
			assert.Equal(t, c.h, f.HeightPx)
			assert.Len(t, f.Img.Pix, 3*1600*1200)
			assert.Equal(t, c.date, f.Taken.Day()[:7])
			assert.True(t, f.Taken.HasOffset)
			assert.Equal(t, "exif", f.Taken.Source)
			assert.Equal(t, "Handheld Demo 12", f.Camera)
			assert.Greater(t, f.F35MM, 20.0)
			assert.Empty(t, f.Notes)
		})
	}
}
