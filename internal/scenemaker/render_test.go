package scenemaker

import (
	"bytes"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/photo"
)

// still is a scene without noise, tilt and slope: one leaf, seen square on.
func still(leaves ...Leaf) *Scene {
	return &Scene{Plant: 7, Leaves: leaves, Stand: Stand{X: -100, Y: 60}, Print: Print{1, 1}, Tag: [2]float64{-110, 80}, WidthPx: 900, HeightPx: 675, F35: 28,
		Camera: geom.Camera{F: 900, CX: 449.5, CY: 337, R: geom.Mat3{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: geom.Vec3{20, -50, 500}},
		Light:  Light{LampKelvin: 6500, AroundKelvin: 6500, LampShare: 0.5, From: geom.Vec3{0, 0, -1}},
		Sensor: Sensor{WhiteSRGB: 220, BlurPx: 0.6, Electrons: 8000, Mix: Straight, Quality: 92}, Backdrop: Grey(),
		Taken: time.Date(2026, 5, 14, 9, 30, 0, 0, time.FixedZone("", 2*3600)), Seed: 1}
}

func ellipse(length, width float64) Leaf {
	l := Leaf{AngleDeg: -120, LengthMM: length, WidthMM: width, Blunt: 0.5, WidestAt: 0.5}
	for c := range Classes {
		l.Colours[c] = colour.Lab{L: 45, A: -25, B: 30}
	}
	return l
}

// The area of a leaf's outline against closed forms: the square root of a sine over its half period has the mean
// 0.7627597635 (Gamma(3/4)/(sqrt(pi) Gamma(5/4)); DLMF 5.12.2), a sine 2/pi.
func TestLeafAreaAgainstClosedForms(t *testing.T) {
	half := math.Gamma(0.75) / (math.Sqrt(math.Pi) * math.Gamma(1.25))
	for _, c := range []struct {
		name        string
		blunt, mean float64
	}{{"blunt", 0.5, half}, {"pointed", 1, 2 / math.Pi}} {
		t.Run(c.name, func(t *testing.T) {
			l := ellipse(100, 30)
			l.Blunt = c.blunt
			assert.InEpsilon(t, 3000*c.mean, l.AreaMM2(), 5e-4)
			l.Bend = 0.4 // a strip bent about its middle line keeps its area (Pappus)
			assert.InEpsilon(t, 3000*c.mean, l.AreaMM2(), 5e-4)
			assert.InDelta(t, 0.3, partBeyond(&l, l.tipFrom(0.3)), 2e-3)
		})
	}
}

// partBeyond is the share of the leaf beyond t, by its outline.
func partBeyond(l *Leaf, t float64) float64 {
	return ringArea(l.band(t, 1, constant(-1), constant(1))) / l.AreaMM2()
}

// What the samples add up to is the outline's own area, turned out of the card's plane and seen at an angle or not.
func TestTruthAgainstOutlines(t *testing.T) {
	for _, c := range []struct {
		name         string
		slope, roll  float64
		turn, depth  float64
		tilt         geom.Vec3
		margin, tips float64
	}{
		{"square on", 0, 0, 0, 0, geom.Vec3{}, 0, 0},
		{"sloping leaf", 25, -10, 0, 12, geom.Vec3{}, 0, 0},
		{"turned plant, tilted camera", 10, 5, 8, -15, geom.Vec3{0.2, -0.3, 0.1}, 0, 0},
		{"parts of other colours", 0, 0, 0, 0, geom.Vec3{0.1, 0.1, 0}, 0.3, 0.25},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := ellipse(110, 32)
			l.SlopeDeg, l.RollDeg, l.Margin, l.TipYellow = c.slope, c.roll, c.margin, c.tips
			sc := still(l)
			sc.Stand.TurnDeg, sc.Stand.DepthMM = c.turn, c.depth
			sc.Camera.R = geom.Rodrigues(c.tilt)
			mid := sc.Camera.R.Vec(geom.Vec3{-20, 50, 0})
			sc.Camera.T = geom.Vec3{-mid[0], -mid[1], 480 - mid[2]}
			_, truth, err := Draw(sc)
			require.NoError(t, err)
			pl := sc.Stand.planeOf(&l)
			want := l.AreaMM2() * pl.projected()
			assert.InEpsilon(t, want, truth.AreaMM2, 3e-4)
			assert.InDelta(t, 0, truth.HiddenOrCutMM2, 3e-4*want)
			assert.InDelta(t, 1, geom.Norm(pl.U), 1e-12)
			assert.InDelta(t, 0, geom.Dot(pl.U, pl.V), 1e-12)
			if c.margin > 0 {
				assert.InDelta(t, c.tips, truth.Share[Yellow], 0.005)
				assert.InDelta(t, c.margin*(1-c.tips), truth.Share[Purple], 0.005)
			}
		})
	}
}

func TestHiddenLeafDoesNotCount(t *testing.T) {
	back, front := ellipse(100, 30), ellipse(100, 30)
	sc := still(back, front)
	_, truth, err := Draw(sc)
	require.NoError(t, err)
	assert.InEpsilon(t, front.AreaMM2(), truth.AreaMM2, 1e-3)
	assert.InEpsilon(t, back.AreaMM2(), truth.HiddenOrCutMM2, 1e-3)
}

// The homography of a plane agrees with projecting its points one by one.
func TestPlaneToPhoto(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	sc := Shoot(r, SetUp(r, Grow(r, 3), NewHabit(r), time.Now()))
	pl := sc.Stand.planeOf(&sc.Leaves[0])
	h := pl.toPx(sc.Camera)
	for _, q := range sc.Leaves[0].outline() {
		a, b := h.Px(q), sc.Camera.Px(pl.at(q.X, q.Y))
		assert.InDelta(t, b.X, a.X, 1e-6)
		assert.InDelta(t, b.Y, a.Y, 1e-6)
	}
}

// CIE 15:2004: illuminant A, a black body of 2856 K, has x = 0.44758, y = 0.40745. Black bodies of 4000 and 6500 K:
// Wyszecki & Stiles 1982, table 1(3.11), from memory.
func TestBlackbodyColours(t *testing.T) {
	for _, c := range []struct{ kelvin, x, y float64 }{{2856, 0.44758, 0.40745}, {4000, 0.3805, 0.3768}, {6500, 0.3135, 0.3237}} {
		want := colour.FromXYZ(colour.XYZ{c.x / c.y, 1, (1 - c.x - c.y) / c.y})
		got := Blackbody(c.kelvin)
		assert.InDelta(t, want[0]/want[1], got[0], 0.01, "%g K, red", c.kelvin)
		assert.InDelta(t, want[2]/want[1], got[2], 0.01, "%g K, blue", c.kelvin)
	}
}

func TestBlurKeepsLight(t *testing.T) {
	const w, h = 41, 31
	p := make([]float32, w*h)
	p[15*w+20] = 1
	blur(p, w, h, 1.5)
	var sum, xx, yy float64
	for y := range h {
		for x := range w {
			v := float64(p[y*w+x])
			sum += v
			xx += v * float64((x-20)*(x-20))
			yy += v * float64((y-15)*(y-15))
		}
	}
	assert.InDelta(t, 1, sum, 1e-5)
	assert.InDelta(t, 1.5, math.Sqrt(xx), 0.03)
	assert.InDelta(t, 1.5, math.Sqrt(yy), 0.03)
}

// The file is a JPEG that others read, with what a phone writes into it; the same scene gives the same bytes.
func TestFile(t *testing.T) {
	a, err := Render(still(ellipse(100, 30)))
	require.NoError(t, err)
	b, err := Render(still(ellipse(100, 30)))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(a.JPEG, b.JPEG))
	img, err := jpeg.Decode(bytes.NewReader(a.JPEG))
	require.NoError(t, err)
	assert.Equal(t, 900, img.Bounds().Dx())
	f, err := photo.Read(a.JPEG, photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, 28.0, f.F35MM)
	assert.Equal(t, "2026-05-14T09:30:00+02:00", f.Taken.String())
	assert.Equal(t, "Scene Maker 1", f.Camera)
}

func TestImpossibleScenesAreErrors(t *testing.T) {
	behind := still(ellipse(100, 30))
	behind.Camera.T[2] = -10
	_, err := Render(behind)
	assert.ErrorContains(t, err, "behind the camera")
	none := still()
	none.WidthPx = 0
	_, err = Render(none)
	assert.Error(t, err)
	quality := still()
	quality.Sensor.Quality = 0
	_, err = Render(quality)
	assert.Error(t, err)
}

// Known changes of the leaves change the truth by as much.
func TestGrown(t *testing.T) {
	p := Grow(rand.New(rand.NewPCG(4, 4)), 9)
	g := p.Grown(1.1, 0)
	for i := range p.Leaves {
		assert.InEpsilon(t, 1.1*p.Leaves[i].AreaMM2(), g.Leaves[i].AreaMM2(), 1e-9)
	}
	sc := still(p.Leaves...)
	sc.Camera.T[2] = 700
	_, before, err := Draw(sc)
	require.NoError(t, err)
	sc.Leaves = p.Grown(1, 0.1).Leaves
	_, after, err := Draw(sc)
	require.NoError(t, err)
	assert.InDelta(t, 0.1, after.Share[Purple]-before.Share[Purple], 0.05, "tips are hidden less than the rest")
	assert.Greater(t, after.Share[Purple]-before.Share[Purple], 0.1)
	assert.InEpsilon(t, before.AreaMM2, after.AreaMM2, 1e-6)
}
