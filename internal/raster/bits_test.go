package raster

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// sparse is a mask with a share of one in n pixels inside, with values other than 1 among them.
func sparse(rng *rand.Rand, w, h, n int) Mask {
	m := NewMask(w, h)
	for i := range m.Pix {
		if rng.IntN(n) == 0 {
			m.Pix[i] = uint8(1 + rng.IntN(255))
		}
	}
	return m
}

func TestBitsAreTheMaskAgain(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, w := range []int{1, 7, 8, 63, 64, 65, 130, 200} {
		m := sparse(rng, w, 9, 3)
		out, inv := Pack(m).Mask(), Pack(m).Inverse().Mask()
		for i, v := range m.Pix {
			require.Equal(t, v != 0, out.Pix[i] == 1, "width %d, pixel %d", w, i)
			require.Equal(t, v == 0, inv.Pix[i] == 1, "width %d, pixel %d", w, i)
		}
	}
}

// Widening and narrowing against their definition: a pixel is reached where one inside lies within the radius.
func TestGrownAndShrunkAgainstDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const w, h = 211, 31
	for _, r := range []float64{0.3, 1, 1.3, 4.3, 17, 70.3, 140} {
		m := sparse(rng, w, h, 400+int(20*r*r))
		m.Pix[3] = 1
		grown, shrunk := Pack(m).Dilated(r).Mask(), Pack(m).Inverse().Eroded(r).Mask()
		for y := range h {
			for x := range w {
				want := false
				for i, v := range m.Pix {
					dx, dy := float64(i%w-x), float64(i/w-y)
					if v != 0 && dx*dx+dy*dy <= r*r {
						want = true
						break
					}
				}
				require.Equal(t, want, grown.Pix[y*w+x] == 1, "radius %g at %d, %d", r, x, y)
				require.Equal(t, !want, shrunk.Pix[y*w+x] == 1, "radius %g at %d, %d", r, x, y)
			}
		}
	}
}
