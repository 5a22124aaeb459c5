package regions

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// The loops in C give what is told here plainly, for a picture that becomes smaller, larger, or stays.
func TestResampleIsWhatItIsSaidToBe(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range [][4]int{{100, 75, 77, 58}, {33, 20, 64, 64}, {64, 64, 64, 64}, {90, 3, 7, 2}, {1, 1, 3, 3}} {
		p := raster.NewBGR(c[0], c[1])
		for i := range p.Pix {
			p.Pix[i] = uint8(rng.IntN(256))
		}
		want := raster.NewBGR(c[2], c[3])
		for y, sy := range spans(p.H, want.H) {
			for x, sx := range spans(p.W, want.W) {
				for k := range 3 {
					sum := uint32(0)
					for j, wy := range sy.weight {
						row := uint32(0)
						for i, wx := range sx.weight {
							row += wx * uint32(p.Pix[3*((sy.from+j)*p.W+sx.from+i)+k])
						}
						sum += wy * (row >> 4)
					}
					want.Pix[3*(y*want.W+x)+k] = uint8((sum + 1<<19) >> 20)
				}
			}
		}
		require.Equal(t, want, Resample(p, want.W, want.H), "%v", c)
	}
}
