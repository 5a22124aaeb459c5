package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The sums in C about pixels of a row, and of the leaf's two halves, against what is told here plainly, to the last digit.
func TestSidesAgainstPlainGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	in := &Input{Colour: SRGB()}
	in.Colour.Root = true
	g := &grid{w: 61, h: 40, k: 1}
	g.pix = make([]uint8, 3*g.w*g.h)
	for i := range g.pix {
		g.pix[i] = uint8(rng.IntN(256))
	}
	r := &surroundings{in: in, g: g, kinds: make([]uint8, g.w*g.h), lin: newLightRing(in, g, box{0, 0, g.w, g.h}), weight: nearWeights()}
	for i := range r.kinds {
		r.kinds[i] = uint8(rng.IntN(3))
	}
	xs := []int32{0, 3, 30, 31, 60}
	for y := range g.h {
		r.look(y, xs)
		for k, x := range xs {
			assert.Equal(t, plainSide(r, int(x), y), r.sidesAt(k, int(x), y), "%d, %d", x, y)
		}
	}
}

// plainSide sums about a pixel.
func plainSide(r *surroundings, x, y int) (s side) {
	for yy := max(0, y-reach); yy <= min(r.g.h-1, y+reach); yy++ {
		for xx := max(0, x-reach); xx <= min(r.g.w-1, x+reach); xx++ {
			p := r.g.pix[3*(yy*r.g.w+xx):]
			red, green, blue := r.in.Colour.Linear(p[2], p[1], p[0])
			if kind := r.kinds[yy*r.g.w+xx]; kind != 0 {
				s.one(kind, [4]float32{red, green, blue, red*red + green*green + blue*blue}, r.weight[yy-y+reach][xx-x+reach])
			}
		}
	}
	return s
}
