package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A mean of a part is that of the whole to the last digit, and both are the mean of the window.
func TestMeansOfAPartAreThoseOfTheWhole(t *testing.T) {
	const w, h = 60, 40
	rng := rand.New(rand.NewPCG(9, 1))
	for _, part := range []box{{20, 15, 41, 30}, {0, 0, 9, 5}, {1, 2, 4, 38}, {50, 30, w, h}, {3, 3, 20, 8}} {
		p := make([]float32, w*h)
		for y := part.y0; y < part.y1; y++ {
			for x := part.x0; x < part.x1; x++ {
				p[y*w+x] = rng.Float32()
			}
		}
		for _, r := range []int{1, 2, 5} {
			whole := boxMean(p, w, h, r)
			in := part.grow(2*r, w, h)
			got := boxMeanIn(p, w, h, r, in)
			for y := in.y0; y < in.y1; y++ {
				assert.Equal(t, whole[y*w+in.x0:y*w+in.x1], got[y*w+in.x0:y*w+in.x1], "%v, radius %d, row %d", part, r, y)
			}
			for _, at := range [][2]int{{part.x0, part.y0}, {part.x1 - 1, part.y1 - 1}, {30, 20}, {0, 0}, {w - 1, h - 1}} {
				sum, n := 0.0, 0.0
				for y := max(0, at[1]-r); y <= min(h-1, at[1]+r); y++ {
					for x := max(0, at[0]-r); x <= min(w-1, at[0]+r); x++ {
						sum, n = sum+float64(p[y*w+x]), n+1
					}
				}
				assert.InDelta(t, sum/n, whole[at[1]*w+at[0]], 1e-5)
			}
		}
	}
}
