package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func (t *labTable) f(x float32) float32 {
	if x <= 0 {
		return 16.0 / 116 // darker than black: rounding of the correction
	}
	x *= labSteps / labTop
	if x >= labSteps {
		x = labSteps
	}
	i := int(x)
	return t[i] + (x-float32(i))*(t[i+1]-t[i])
}

// lab is picture, a colour at a time.
func (t *labTable) lab(r, g, b float32) (L, A, B float32) {
	x := t.f((0.412453*r + 0.357580*g + 0.180423*b) * (1 / 0.95047))
	y := t.f(0.212671*r + 0.715160*g + 0.072169*b)
	z := t.f((0.019334*r + 0.119193*g + 0.950227*b) * (1 / 1.08883))
	return 116*y - 16, 500 * (x - y), 200 * (y - z)
}

// Every last bit is the same, for colours of all kinds and any number of them.
func TestLabOfPictureIsLabOfEachColour(t *testing.T) {
	tab := newLabTable()
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 63, 64, 65, 1000, 40000} {
		for _, root := range []bool{false, true} {
			c := SRGB()
			c.Root = root
			for i := range 3 {
				for v := range 256 {
					c.Tone[i][v] *= 0.7 + rng.Float32()*0.01 + 0.4*float32(i)
				}
				for k := range 6 {
					c.Mix[i][k] += 0.6*rng.Float32() - 0.3 // some colours come out below black
				}
			}
			pix := make([]uint8, 3*n)
			for i := range pix {
				pix[i] = uint8(rng.Uint32())
			}
			L, A, B := make([]float32, n), make([]float32, n), make([]float32, n)
			tab.picture(&c, pix, L, A, B)
			for i := range n {
				l, a, b := tab.lab(c.Linear(pix[3*i+2], pix[3*i+1], pix[3*i]))
				require.Equal(t, [3]float32{l, a, b}, [3]float32{L[i], A[i], B[i]}, "colour %d", i)
			}
		}
	}
}
