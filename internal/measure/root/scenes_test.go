package root

import (
	"encoding/json"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/calib"
	"phototrack/internal/photo"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/wall"
)

// shared finds the folder of rendered photos beside the repository; without it the test is skipped, on a build machine
// it fails.
func shared(t testing.TB, parts ...string) string {
	t.Helper()
	return reftest.Path(t, parts...)
}

// scene is one photo's truth.
type scene struct {
	Set    string
	File   string `json:"file"`
	Side   string `json:"side"`
	Expect string `json:"expect"`
	Camera struct{ Fx, Fy, Cx, Cy float64 }
	Card   struct {
		R     [3][3]float64 `json:"R"`
		T     wall.Vec      `json:"t_mm"`
		White [3]float64    `json:"white_srgb8"`
	} `json:"card"`
	Tag  [][2]float64 `json:"tag_marker_corners_px"`
	Root *struct {
		By10     []float64 `json:"visible_length_by_azimuth_10deg_mm"`
		Tips     int       `json:"visible_tips"`
		Diameter float64   `json:"mean_diameter_mm"`
		Roots    []struct {
			Length  float64 `json:"length_mm"`
			Visible float64 `json:"visible_mm"`
			Tip     bool    `json:"tip_visible"`
		} `json:"roots"`
	} `json:"root"`
	Pot struct {
		Top    float64  `json:"inner_diameter_top_mm"`
		Bottom float64  `json:"inner_diameter_bottom_mm"`
		Height float64  `json:"height_mm"`
		Base   wall.Vec `json:"axis_bottom_card_mm"`
		Rim    wall.Vec `json:"axis_top_card_mm"`
	} `json:"pot"`
}

func (s scene) length() float64 {
	var l float64
	for _, v := range s.Root.By10[:6] {
		l += v
	}
	return l
}

func rootScenes(t testing.TB) []scene {
	var out []scene
	for _, set := range []string{"single", "series", "hard"} {
		raw, err := os.ReadFile(filepath.Join(shared(t, "scenes", set), "truth.json"))
		require.NoError(t, err)
		var doc struct {
			Files []json.RawMessage `json:"files"`
		}
		require.NoError(t, json.Unmarshal(raw, &doc))
		for _, f := range doc.Files {
			var head struct {
				Side string `json:"side"`
			}
			require.NoError(t, json.Unmarshal(f, &head))
			if head.Side != "R" {
				continue
			}
			var s scene
			require.NoError(t, json.Unmarshal(f, &s))
			s.Set = set
			out = append(out, s)
		}
	}
	return out
}

func (s scene) camera() wall.Camera {
	c := wall.Camera{Fx: s.Camera.Fx, Fy: s.Camera.Fy, Cx: s.Camera.Cx, Cy: s.Camera.Cy, T: s.Card.T}
	for i := range 3 {
		for j := range 3 {
			c.R[3*i+j] = s.Card.R[i][j]
		}
	}
	return c
}

func (s scene) read(t testing.TB) *photo.Frame {
	raw, err := os.ReadFile(shared(t, "scenes", s.Set, s.File))
	require.NoError(t, err)
	f, err := photo.Read(raw, photo.Limits{})
	require.NoError(t, err)
	return f
}

// input is the photo calibrated by its own card, as a run does it.
func (s scene) input(t testing.TB) Input {
	f := s.read(t)
	cal, _, err := calib.Calibrate(f.Img, f.F35MM, calib.Settings{ColourMode: "nominal", Print: calib.TruePrint(0.002)})
	require.NoError(t, err)
	in := Input{Img: f.Img, Pot: s.pot(), PotSource: "plants.csv", DistanceMM: cal.DistanceMM, ScaleRelU: cal.ScaleRelU, PrintRelU: cal.PrintRelU}
	c := cal.Camera
	in.Camera = wall.Camera{Fx: c.F, Fy: c.F, Cx: c.CX, Cy: c.CY, R: c.R, T: wall.Vec(c.T)}
	in.Lab = func(b, g, r uint8) (float32, float32, float32) {
		l := cal.Colour.Lab(b, g, r)
		return float32(l.L), float32(l.A), float32(l.B)
	}
	for _, o := range append(cal.TagOutlines(1), cal.Outline(2)) {
		var q []record.Point
		for _, p := range o {
			q = append(q, record.Point{X: p.X, Y: p.Y})
		}
		in.Blocked = append(in.Blocked, q)
	}
	return in
}

func (s scene) frustum() wall.Frustum {
	f := wall.Frustum{Rim: s.Pot.Rim, Base: s.Pot.Base, RRim: s.Pot.Top / 2, RBase: s.Pot.Bottom / 2}
	return f.Facing(s.camera().Centre())
}

func (s scene) pot() record.Pot {
	return record.Pot{TopMM: s.Pot.Top, BottomMM: s.Pot.Bottom, HeightMM: s.Pot.Height}
}

func savePNG(t testing.TB, path string, p raster.BGR) {
	img := image.NewNRGBA(image.Rect(0, 0, p.W, p.H))
	for i := range p.W * p.H {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = p.Pix[3*i+2], p.Pix[3*i+1], p.Pix[3*i], 255
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, img))
}
