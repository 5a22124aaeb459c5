package plate

import (
	"encoding/json"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// scenesDir is the rendered series beside the checkout.
func scenesDir(t testing.TB) string {
	t.Helper()
	return reftest.Path(t, "scenes", "series")
}

type truthEntry struct {
	File   string                           `json:"file"`
	Tag    int                              `json:"tag"`
	Date   string                           `json:"date"`
	WH     [2]int                           `json:"image_wh"`
	Mask   string                           `json:"mask"`
	Camera struct{ Fx, Fy, Cx, Cy float64 } `json:"camera"`
	Card   struct {
		R [3][3]float64 `json:"R"`
		T [3]float64    `json:"t_mm"`
	} `json:"card"`
	Leaf struct {
		Total float64 `json:"visible_area_total_mm2"`
	} `json:"leaf"`
}

// framesOf keeps the frames of each plant for all tests: tests do not run in parallel, and each gets its own slice.
var framesOf = map[int][]Frame{}

// sceneFrames gives a plant's frames with true geometry, working pictures 1200 px wide.
func sceneFrames(t testing.TB, plant int) []Frame {
	t.Helper()
	if f, ok := framesOf[plant]; ok {
		return append([]Frame(nil), f...)
	}
	dir := scenesDir(t)
	b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	require.NoError(t, err)
	var all struct{ Files []truthEntry }
	require.NoError(t, json.Unmarshal(b, &all))
	var out []Frame
	for _, e := range all.Files {
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

func truePhoto(t testing.TB, dir string, e truthEntry) *record.Photo {
	t.Helper()
	at, err := time.Parse(time.RFC3339, e.Date)
	require.NoError(t, err)
	k := [3][3]float64{{e.Camera.Fx, 0, e.Camera.Cx}, {0, e.Camera.Fy, e.Camera.Cy}, {0, 0, 1}}
	h := make([]float64, 9)
	for i := range 3 {
		for j := range 3 {
			m := [3]float64{e.Card.R[0][j], e.Card.R[1][j], e.Card.R[2][j]}
			if j == 2 {
				m = e.Card.T
			}
			h[3*i+j] = k[i][0]*m[0] + k[i][1]*m[1] + k[i][2]*m[2]
		}
	}
	p := &record.Photo{Name: e.File, Plant: e.Tag, WidthPx: e.WH[0], HeightPx: e.WH[1],
		Taken: record.Stamp{Time: at, Source: "exif"}, Calibration: &record.Calibration{CardToPx: h}}
	p.Outlines = maskOutlines(t, filepath.Join(dir, e.Mask))
	return p
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
