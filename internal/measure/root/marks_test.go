package root

import (
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// sector is the outline, in the photo, of the wall between two azimuths (degrees), a little beyond rim and base.
func (s scene) sector(from, to float64) []record.Point {
	sh, h := s.frustum().Sheet(), s.frustum().Height()
	var out []record.Point
	add := func(az, depth float64) {
		u, v, ok := s.camera().Project(sh.Point(az*math.Pi/180, depth))
		if ok {
			out = append(out, record.Point{X: u, Y: v})
		}
	}
	const n = 24
	for i := 0; i <= n; i++ {
		add(from+(to-from)*float64(i)/n, -2)
	}
	for i := 0; i <= n; i++ {
		add(to, -2+(h+4)*float64(i)/n)
	}
	for i := n; i >= 0; i-- {
		add(from+(to-from)*float64(i)/n, h+2)
	}
	for i := n; i >= 0; i-- {
		add(from, -2+(h+4)*float64(i)/n)
	}
	return out
}

// Half of the wall is left out: what lies farther round than 30 degrees on either side. Truth: the centre-lines within 30
// degrees of azimuth, the first three of visible_length_by_azimuth_10deg_mm in ../shared/scenes/*/truth.json.
func TestHalfTheWallLeftOut(t *testing.T) {
	for _, name := range []string{"R02_straight_dense.jpg", "R03_straight_medium.jpg", "R04_tapered_medium.jpg", "R05_tapered_sparse.jpg"} {
		s := sceneOf(t, name)
		t.Run(name, func(t *testing.T) {
			in := s.input(t)
			whole, _, err := Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
			require.NoError(t, err)
			in.Marks = []Mark{{Points: s.sector(-89, -30)}, {Points: s.sector(30, 89)}}
			r, why, err := Measure(in, DefaultSettings())
			require.NoError(t, err)
			truth := s.Root.By10[0] + s.Root.By10[1] + s.Root.By10[2]
			l, seen := value(r.Quantities, record.RootLength), value(r.Quantities, record.WallSeenShare)
			full := value(whole.Quantities, record.RootLength)
			narrow := term(l, "wall not seen")
			t.Logf("%.1f of %.1f mm (%.1f of %.1f without marks), u95 %.1f, seen %.2f", l.Value, truth, full.Value, s.length(), l.U95, seen.Value)
			if dir := os.Getenv("ROOT_PICTURES"); dir != "" {
				savePNG(t, filepath.Join(dir, name[:len(name)-4]+"_half.png"), r.WallShown)
			}
			assert.InDelta(t, truth, l.Value, l.U95, "within the stated interval")
			assert.InDelta(t, truth, l.Value, 0.12*truth+8, "and nearer than that: the interval also allows for the roots left out")
			assert.Less(t, l.Value, full.Value)
			assert.InDelta(t, 0.5, seen.Value, 0.03)
			assert.Greater(t, narrow, term(full, "wall not seen"))
			assert.Contains(t, codesOf(why), "wall_hidden")
			assert.Contains(t, why[len(why)-1].Detail, "left out by hand")
			for _, k := range r.Roots {
				for _, p := range k.Wall {
					assert.Less(t, math.Abs(p.X/r.Wall.radius(p.Y)), 33*math.Pi/180, "no root within the areas, but for half a root at their edge")
				}
			}
		})
	}
}

func sceneOf(t *testing.T, name string) scene {
	t.Helper()
	for _, s := range rootScenes(t) {
		if s.File == name {
			return s
		}
	}
	t.Fatalf("no scene %s", name)
	return scene{}
}

func term(q record.Quantity, name string) float64 {
	for _, k := range q.Terms {
		if k.Name == name {
			return k.U
		}
	}
	return 0
}

// fade mixes the colour of one root of the photo with the bark beside it, so that share is left of its contrast, and gives
// the outline of where it is.
func (s scene) fade(t *testing.T, in *Input, share float64) []record.Point {
	t.Helper()
	f, err := os.Open(shared(t, "scenes", s.Set, "masks", s.File[:len(s.File)-4]+".png"))
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	require.Equal(t, []int{in.Img.W, in.Img.H}, []int{w, h})
	roots := raster.NewMask(w, h)
	for i := range roots.Pix {
		if c := img.(*image.Gray).Pix[i]; c == 5 || c == 6 { // root, green tip
			roots.Pix[i] = 1
		}
	}
	runs, size := raster.Components(dilated(roots, 2), true)
	label := raster.Label(runs, w, h)
	best := 0
	for k, n := range size {
		if k > 0 && n > size[best] {
			best = k
		}
	}
	box := [4]int{w, h, 0, 0}
	soft := raster.NewFloat(w, h)
	for i, l := range label {
		if l != int32(best) {
			continue
		}
		soft.Pix[i] = 1
		if roots.Pix[i] != 0 {
			x, y := i%w, i/w
			box = [4]int{min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)}
		}
	}
	blur(soft, 2)
	was := in.Img.Pix
	in.Img.Pix = append([]uint8(nil), was...)
	bark := func(i int) bool { return img.(*image.Gray).Pix[i] == 9 }
	for i, k := range soft.Pix {
		if k == 0 {
			continue
		}
		// the bark beside the root, mirrored into it, so that its grain goes on
		y, x := i/w, i%w
		from := -1
		for d := 1; d < 120 && from < 0; d++ {
			for _, side := range [2]int{-1, 1} {
				if u := x + side*d; u > 0 && u < w && bark(y*w+u) {
					if v := x + side*2*d; v > 0 && v < w && bark(y*w+v) {
						u = v
					}
					from = y*w + u
					break
				}
			}
		}
		if from < 0 {
			continue
		}
		for c := range 3 {
			p := &in.Img.Pix[3*i+c]
			*p = uint8(float64(*p) + (1-share)*float64(k)*(float64(was[3*from+c])-float64(*p)) + 0.5)
		}
	}
	const m = 8.0
	x0, y0, x1, y1 := float64(box[0])-m, float64(box[1])-m, float64(box[2])+m, float64(box[3])+m
	return []record.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// A root that hardly stands out from the bark is left out; in a keep area it counts.
func TestKeepBringsAFaintRootBack(t *testing.T) {
	for _, name := range []string{"R01_straight_sparse.jpg", "R05_tapered_sparse.jpg"} {
		s := sceneOf(t, name)
		t.Run(name, func(t *testing.T) {
			in := s.input(t)
			measure := func() float64 {
				r, _, err := Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
				require.NoError(t, err)
				return value(r.Quantities, record.RootLength).Value
			}
			plain := measure()
			clear, faint := in, plain
			var area []record.Point
			for share := 0.3; faint >= plain-25; share *= 0.7 { // until it is lost
				require.Greater(t, share, 0.01)
				in = clear
				area = s.fade(t, &in, share)
				faint = measure()
				t.Logf("with %.3f of its contrast: %.0f mm", share, faint)
			}
			in.Marks = []Mark{{Keep: true, Points: area}}
			kept := measure()
			t.Logf("%.0f mm (truth %.0f), faded %.0f, kept %.0f", plain, s.length(), faint, kept)
			assert.Less(t, faint, plain-25)
			assert.InDelta(t, s.length(), kept, 0.2*s.length())
			in.Marks = append(in.Marks, Mark{Points: area})
			assert.LessOrEqual(t, measure(), faint+4, "where both overlap, leaving out wins")
		})
	}
}

// On bark without roots a keep area finds little: what shows no ridge is not counted.
func TestKeepOnBarkAlone(t *testing.T) {
	s := sceneOf(t, "D10_R_bark_only.jpg")
	in := s.input(t)
	in.Marks = []Mark{{Keep: true, Points: s.sector(-20, 20)}}
	r, _, err := Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
	require.NoError(t, err)
	l := value(r.Quantities, record.RootLength)
	t.Logf("%.0f mm", l.Value)
	assert.Less(t, l.Value, 60.0)
	in.Marks = []Mark{{Keep: true, Points: nil}, {Points: []record.Point{{X: 1}, {X: 2}}}}
	r, _, err = Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
	require.NoError(t, err)
	in.Marks = nil
	none, why, err := Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
	require.NoError(t, err)
	assert.Equal(t, none.Quantities, r.Quantities, "marks without an area mean nothing")
	if value(none.Quantities, record.RootLength).Value > 10 {
		assert.Contains(t, codesOf(why), "too_unsure", "what is found on bark alone is not counted")
	}
}

// A pale tie lies before the bark and is taken for a root; left out, it counts no more, and what is true stays.
func TestATieIsLeftOut(t *testing.T) {
	s := sceneOf(t, "R01_straight_sparse.jpg")
	in := s.input(t)
	measure := func() (length, seen, u95 float64) {
		r, _, err := Measure(in, Settings{DepthCommonMM: 8, DepthShotMM: 5})
		require.NoError(t, err)
		l := value(r.Quantities, record.RootLength)
		return l.Value, value(r.Quantities, record.WallSeenShare).Value, l.U95
	}
	plain, seen, _ := measure()
	sh, h := s.frustum().Sheet(), s.frustum().Height()
	in.Img.Pix = append([]uint8(nil), in.Img.Pix...)
	var line []record.Point
	for k := 0; k <= 400; k++ {
		at := float64(k) / 400
		u, v, ok := s.camera().Project(sh.Point((-32+64*at)*math.Pi/180, h*(0.72+0.12*at)))
		require.True(t, ok)
		line = append(line, record.Point{X: u, Y: v})
		for dy := -5; dy <= 5; dy++ {
			for dx := -5; dx <= 5; dx++ {
				if i := (int(v)+dy)*in.Img.W + int(u) + dx; dx*dx+dy*dy <= 25 {
					in.Img.Pix[3*i], in.Img.Pix[3*i+1], in.Img.Pix[3*i+2] = 205, 215, 214
				}
			}
		}
	}
	tied, _, _ := measure()
	var area []record.Point
	for _, p := range line {
		area = append(area, record.Point{X: p.X, Y: p.Y - 9})
	}
	for k := len(line) - 1; k >= 0; k-- {
		area = append(area, record.Point{X: line[k].X, Y: line[k].Y + 9})
	}
	in.Marks = []Mark{{Points: area}}
	freed, left, u95 := measure()
	t.Logf("%.0f mm (truth %.0f), with a tie %.0f, with the tie left out %.0f +- %.0f; seen %.3f and %.3f", plain, s.length(), tied, freed, u95, seen, left)
	assert.Greater(t, tied, plain+30)
	assert.InDelta(t, plain, freed, 8)
	assert.InDelta(t, s.length(), freed, u95)
	assert.InDelta(t, seen, left, 0.06)
	assert.Less(t, left, seen)
}
