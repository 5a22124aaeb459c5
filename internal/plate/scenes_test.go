package plate

import (
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// framesOf keeps the frames of each plant for all tests: tests do not run in parallel, and each gets its own slice.
var framesOf = map[int][]Frame{}

// sceneFrames gives a plant's frames with true geometry, working pictures 1200 px wide.
func sceneFrames(t testing.TB, plant int) []Frame {
	t.Helper()
	if f, ok := framesOf[plant]; ok {
		return append([]Frame(nil), f...)
	}
	dir, files := reftest.Series(t)
	var out []Frame
	for _, e := range files {
		if e.Tag != plant {
			continue
		}
		m, err := imaging.Open(filepath.Join(dir, e.File), imaging.AutoOrientation(true))
		require.NoError(t, err)
		p := truePhoto(t, dir, e)
		f, ok := FromPhoto(p, imaging.Resize(m, 1200, 0, imaging.Lanczos))
		require.True(t, ok)
		f.Values = []string{"leaf area " + areaWords(e.Leaf.Total)}
		out = append(out, f)
	}
	framesOf[plant] = append([]Frame(nil), out...)
	return out
}

func truePhoto(t testing.TB, dir string, e reftest.Truth) *record.Photo {
	t.Helper()
	return &record.Photo{Name: e.File, Plant: e.Tag, WidthPx: e.WH[0], HeightPx: e.WH[1],
		Taken: record.Stamp{Time: e.Taken(t), Source: "exif"}, Calibration: &record.Calibration{CardToPx: e.CardToPx()},
		Outlines: maskOutlines(t, filepath.Join(dir, e.Mask))}
}

// maskOutlines gives the leftmost and rightmost leaf pixel of every 8th row: enough for extent and foot.
func maskOutlines(t testing.TB, path string) []record.Outline {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	m, err := png.Decode(f)
	require.NoError(t, err)
	g, ok := m.(*image.Gray)
	require.True(t, ok, "masks are one channel")
	var o record.Outline
	o.Kind = "leaf"
	for y := 0; y < g.Rect.Dy(); y += 8 {
		first, last := -1, -1
		for x := range g.Rect.Dx() {
			if v := g.GrayAt(x, y).Y; v >= 1 && v <= 4 {
				if first < 0 {
					first = x
				}
				last = x
			}
		}
		if first >= 0 {
			o.Points = append(o.Points, record.Point{X: float64(first), Y: float64(y)}, record.Point{X: float64(last), Y: float64(y)})
		}
	}
	return []record.Outline{o}
}
