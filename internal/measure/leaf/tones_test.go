package leaf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// halfSure gives some places of the photo another probability of leaf than its mask, and says what they may be instead.
type halfSure struct {
	told
	p      func(x, y int) (float32, bool)
	orElse regions.Class
}

func (h *halfSure) See(v regions.View) (regions.Map, error) {
	m, err := h.told.See(v)
	if err != nil {
		return m, err
	}
	for y := range m.H {
		for x := range m.W {
			i, px := y*m.W+x, x*h.w/m.W
			if h.looks%2 == 0 {
				i = y*m.W + m.W - 1 - x
			}
			if p, ok := h.p(px, y*h.h/m.H); ok {
				for c := range m.P {
					m.P[c][i] = 0
				}
				m.P[regions.Leaf][i], m.P[h.orElse][i] = p, 1-p
			}
		}
	}
	return m, nil
}

// TestColoursOfThisPhoto: what the network is not sure of is decided by what is sure nearby and has its colour.
func TestColoursOfThisPhoto(t *testing.T) {
	const stakeMM2 = 12 * 75 / 16.
	stake := func(dx, dy float64) bool { return dx > -6 && dx < 6 }
	brown := [3]uint8{125, 90, 70}
	measure := func(colour [3]uint8, above bool, p float32, orElse regions.Class) float64 {
		in, whole := ellipse(func(dx, dy float64) ([3]uint8, bool) { return colour, stake(dx, dy) && dy < -35 })
		if above { // the stake goes on over the leaf, where the network knows it for none
			for y := 100; y < 345; y++ {
				for x := 595; x < 606; x++ {
					for k := range 3 {
						in.Img.Pix[3*(y*in.Img.W+x)+2-k] = colour[k]
					}
				}
			}
		}
		in.Net = &halfSure{told: *in.Net.(*told), orElse: orElse, p: func(x, y int) (float32, bool) {
			return p, x > 594 && x < 606 && y > 340 && y < 415
		}}
		res, _, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		return (valueOf(t, res, record.LeafArea).Value - whole) / stakeMM2
	}
	assert.InDelta(t, -1, measure(brown, true, 0.7, regions.Rest), 0.2, "a stake that goes on above the leaf")
	assert.InDelta(t, 0, measure([3]uint8{72, 108, 57}, false, 0.3, regions.Rest), 0.2, "a stretch of the leaf's own colour")
	assert.Less(t, measure([3]uint8{72, 108, 57}, false, 0.3, regions.Part), -0.5, "a green flower stem may have it, too")
}

// TestPaleMargin: the network loses the outer half of a cream margin; its colour is known from the inner half.
func TestPaleMargin(t *testing.T) {
	at := func(dx, dy float64) float64 { return math.Hypot(dx/240, dy/110) }
	cream := [3]uint8{226, 217, 178}
	in, whole := ellipse(func(dx, dy float64) ([3]uint8, bool) { return cream, at(dx, dy) > 0.88 })
	in.Net = &halfSure{told: *in.Net.(*told), orElse: regions.Rest, p: func(x, y int) (float32, bool) {
		r := at(float64(x)-600, float64(y)-450)
		return 0.3, r > 0.94 && r < 1
	}}
	res, _, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	assert.InEpsilon(t, whole, valueOf(t, res, record.LeafArea).Value, 0.01, "of which the outer half of the margin is 12 %")
}
