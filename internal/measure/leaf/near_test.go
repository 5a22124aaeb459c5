package leaf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// ellipse is a green leaf on grey ground, 240 x 110 px half axes, and what is painted into it, with a network that takes all of it
// for leaf.
func ellipse(paint func(dx, dy float64) ([3]uint8, bool)) (Input, float64) {
	const w, h, scale = 1200, 900, 4.0
	in := Input{Img: newPicture(w, h, 150, 150, 150), ScalePxPerMM: scale, DistanceMM: 600, EdgeSpreadPx: 1.8, Colour: SRGB(), HueDegU: 1, LU: 0.5, AU: 0.5, BU: 0.5}
	in.CardToPx[0], in.CardToPx[4], in.CardToPx[8] = scale, scale, 1
	in.Card = []record.Point{{X: 10, Y: 10}, {X: 60, Y: 10}, {X: 60, Y: 50}, {X: 10, Y: 50}}
	net := &told{w: w, h: h, leaf: make([]bool, w*h)}
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-600, float64(y)-450
			if dx*dx/(240*240)+dy*dy/(110*110) > 1 {
				continue
			}
			net.leaf[y*w+x] = true
			c := [3]uint8{70, 110, 55}
			if p, ok := paint(dx, dy); ok {
				c = p
			}
			for k := range 3 {
				in.Img.Pix[3*(y*w+x)+2-k] = c[k]
			}
		}
	}
	in.Net = net
	return in, math.Pi * 240 * 110 / (scale * scale)
}

// TestHoleShowsTheGround: what has the ground's colour and ends sharply within a leaf is a hole; a patch of another colour, a shadow
// and a highlight that fades are not.
func TestHoleShowsTheGround(t *testing.T) {
	round := func(dx, dy float64) float64 { return math.Hypot(dx-60, dy) }
	in, whole := ellipse(func(dx, dy float64) ([3]uint8, bool) { return [3]uint8{150, 150, 150}, round(dx, dy) < 40 })
	res, why, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	hole := math.Pi * 40 * 40 / 16
	q := valueOf(t, res, record.LeafArea)
	assert.InEpsilon(t, whole-hole, q.Value, 0.004)
	assert.Greater(t, q.U95, 0.3*hole, "the network says leaf: the hole is in doubt")
	assert.NotEmpty(t, why)

	for name, paint := range map[string]func(dx, dy float64) ([3]uint8, bool){
		"pale patch": func(dx, dy float64) ([3]uint8, bool) { return [3]uint8{225, 222, 190}, round(dx, dy) < 40 },
		"shadow":     func(dx, dy float64) ([3]uint8, bool) { return [3]uint8{35, 55, 27}, round(dx, dy) < 40 },
		"highlight": func(dx, dy float64) ([3]uint8, bool) {
			g := math.Exp(-math.Pow(round(dx, dy)/28, 2))
			mix := func(a float64) uint8 { return uint8(a + (235-a)*g) }
			return [3]uint8{mix(70), mix(110), mix(55)}, true
		},
	} {
		in, whole := ellipse(paint)
		res, _, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		assert.InEpsilon(t, whole, valueOf(t, res, record.LeafArea).Value, 0.004, name)
	}
}

// coarse is a network that sees no more than the mean over 9 x 9 places of the fine picture: green is leaf.
type coarse struct{}

func (coarse) See(v regions.View) (regions.Map, error) {
	m := regions.Map{W: 2 * v.W, H: 2 * v.H}
	n := v.W * v.H
	green := make([]float32, m.W*m.H)
	for i := range green {
		x, y := i%m.W, i/m.W
		at := y/2*v.W + x/2 + 3*n*(2*(y%2)+x%2)
		if int(v.Pix[at+n]) > int(v.Pix[at])+15 {
			green[i] = 1
		}
	}
	m.P[regions.Leaf] = boxMean(green, m.W, m.H, 4)
	m.Class = make([]regions.Class, len(green))
	for c := range m.P {
		if regions.Class(c) != regions.Leaf {
			m.P[c] = make([]float32, len(green))
		}
	}
	for i, p := range m.P[regions.Leaf] {
		p = sigmoid(14 * (p - 0.35))
		m.P[regions.Leaf][i], m.P[regions.Rest][i] = p, 1-p
		if p > 0.5 {
			m.Class[i] = regions.Leaf
		}
	}
	return m, nil
}

// TestCloseUpsSeeTheGaps: leaflets whose gaps the network does not see in the whole photo are told apart in close-ups.
func TestCloseUpsSeeTheGaps(t *testing.T) {
	const w, h, scale = 2400, 1800, 8.0
	in := Input{Img: newPicture(w, h, 205, 200, 190), ScalePxPerMM: scale, DistanceMM: 600, EdgeSpreadPx: 1.8, Colour: SRGB(), HueDegU: 1, LU: 0.5, AU: 0.5, BU: 0.5, Net: coarse{}}
	in.CardToPx[0], in.CardToPx[4], in.CardToPx[8] = scale, scale, 1
	in.Card = []record.Point{{X: 10, Y: 10}, {X: 60, Y: 10}, {X: 60, Y: 50}, {X: 10, Y: 50}}
	px := 0
	for y := 500; y < 1300; y++ {
		for x := 700; x < 1700; x++ {
			if (x-700)%46 < 28 && (y-500)%200 < 180 {
				copy(in.Img.Pix[3*(y*w+x):], []uint8{55, 110, 70})
				px++
			}
		}
	}
	res, _, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	truth := float64(px) / (scale * scale)
	near := valueOf(t, res, record.LeafArea).Value
	assert.InEpsilon(t, truth, near, 0.06)

	g := newGrid(&in, regionScale(w, h))
	m, err := regions.Look(in.Net, view(&in, g))
	require.NoError(t, err)
	r := found{seen: m}
	assert.Greater(t, r.thin(), 0.0)
	parts := closeUps(&in, &m)
	require.NotEmpty(t, parts)
	var cover raster.Mask = raster.NewMask(w, h)
	for _, c := range parts {
		assert.True(t, c.x >= 0 && c.y >= 0 && c.x+c.w <= w && c.y+c.h <= h)
		assert.GreaterOrEqual(t, c.w, regions.LongPx)
		for y := c.y; y < c.y+c.h; y++ {
			for x := c.x; x < c.x+c.w; x++ {
				cover.Pix[y*w+x] = 1
			}
		}
	}
	for y := 500; y < 1300; y += 10 {
		for x := 700; x < 1700; x += 10 {
			require.NotZero(t, cover.Pix[y*w+x], "the whole plant is seen from near")
		}
	}
}
