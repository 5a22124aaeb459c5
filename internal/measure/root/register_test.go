package root

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// chips is a pattern of bark all round a pot: the lightness of the nearest of random points, by azimuth and depth.
type chips struct{ az, y, l []float64 }

func newChips(seed uint64, pot record.Pot) chips {
	rng := rand.New(rand.NewPCG(seed, 7))
	var c chips
	n := int(math.Pi * pot.TopMM * pot.HeightMM / 40)
	for range n {
		c.az, c.y, c.l = append(c.az, math.Pi*(2*rng.Float64()-1)), append(c.y, pot.HeightMM*rng.Float64()), append(c.l, 40+60*rng.Float64())
	}
	return c
}

// seen is the unrolled wall with the pot turned, rad.
func (c chips) seen(pot record.Pot, turn float64) *Wall {
	w := &Wall{PxPerMM: 1.5, Pot: pot, ZeroPx: 80}
	w.Pic = raster.NewBGR(161, int(1.5*pot.HeightMM))
	for y := range w.Pic.H {
		for x := range w.Pic.W {
			depth := float64(y) / w.PxPerMM
			r := w.radius(depth)
			az := (float64(x) - w.ZeroPx) / w.PxPerMM / r
			if math.Abs(az) > drawnAzimuth {
				continue
			}
			best, l := math.Inf(1), 0.0
			for i := range c.az {
				du := math.Remainder(c.az[i]-az-turn, 2*math.Pi) * r
				if d := du*du + (c.y[i]-depth)*(c.y[i]-depth); d < best {
					best, l = d, c.l[i]
				}
			}
			k := 3 * (y*w.Pic.W + x)
			w.Pic.Pix[k], w.Pic.Pix[k+1], w.Pic.Pix[k+2] = uint8(l), uint8(l), uint8(l)
		}
	}
	return w
}

func TestRegisterFindsTheTurnOrSaysItCannot(t *testing.T) {
	pot := record.Pot{TopMM: 90, BottomMM: 82, HeightMM: 80}
	bark := newChips(5, pot)
	a := bark.seen(pot, 0)
	r := Register(a, bark.seen(pot, 0.3))
	require.True(t, r.OK, r.Why)
	assert.InDelta(t, -0.3*180/math.Pi, r.RotationDeg, 1.5)
	assert.Less(t, r.OverlapShare, 0.95)
	r = Register(a, newChips(6, pot).seen(pot, 0)) // another pot's bark
	assert.False(t, r.OK)
	assert.NotEmpty(t, r.Why)
	a.Roots, a.LengthMM = [][]record.Point{{{X: 1, Y: 10}, {X: 2, Y: 20}}}, []float64{10}
	a.Traits = []string{"9c"}
	a.Veil = newVeil(100, 80)
	a.Veil.set(40, 20)
	back, err := ParseWall(a.Meta(), a.Pic, a.Roots)
	require.NoError(t, err)
	assert.Equal(t, *a, back)
	_, err = ParseWall("{}", a.Pic, nil)
	assert.Error(t, err)
}

// What one of the two photos does not show is neither new nor gone; what is new counts with the doubt about it.
func TestNewRootOnlyOnWallThatBothShow(t *testing.T) {
	pot := record.Pot{TopMM: 90, BottomMM: 82, HeightMM: 80}
	bark := newChips(5, pot)
	before, after := bark.seen(pot, 0), bark.seen(pot, 0)
	line := func(x, y0, y1 float64) (l []record.Point) {
		for y := y0; y <= y1; y++ {
			l = append(l, record.Point{X: x, Y: y})
		}
		return l
	}
	set := func(w *Wall, sure string, lines ...[]record.Point) {
		w.Roots, w.LengthMM, w.Traits = nil, nil, nil
		for _, l := range lines {
			w.Roots = append(w.Roots, l)
			w.LengthMM = append(w.LengthMM, lineLength(l))
			traits := ""
			for range l {
				traits += sure
			}
			w.Traits = append(w.Traits, traits)
		}
	}
	set(before, "9", line(0, 20, 50))
	set(after, "9", line(0, 20, 60), line(15, 20, 50))
	r := Register(before, after)
	require.True(t, r.OK, r.Why)
	assert.InDelta(t, 40, r.NewMM, 4)
	assert.InDelta(t, 30, r.KeptMM, 4)
	sure := r.NewU
	set(after, "5", line(0, 20, 60), line(15, 20, 50))
	r = Register(before, after)
	assert.InDelta(t, 40, r.NewMM, 4)
	assert.Greater(t, r.NewU, 2*sure, "what may be no root at all may not be new root either")
	// a label hid the second root's place in the earlier photo
	before.Veil = newVeil(110, 85)
	for y := 15; y < 55; y++ {
		for x := 60; x < 75; x++ {
			before.Veil.set(x, y)
		}
	}
	r = Register(before, after)
	assert.InDelta(t, 10, r.NewMM, 4)
	// and one that is stuck on later takes nothing away
	before.Veil, after.Veil = Veil{}, before.Veil
	set(before, "9", line(0, 20, 50), line(15, 20, 50))
	set(after, "9", line(0, 20, 50))
	r = Register(before, after)
	assert.Zero(t, r.GoneMM)
	after.Veil = Veil{}
	r = Register(before, after)
	assert.InDelta(t, 30, r.GoneMM, 4)
}
