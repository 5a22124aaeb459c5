package root

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/raster"
)

// Widening and opening by a disc, against the definition, on masks whose width is no multiple of a word.
func TestDiscOperations(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	m := raster.NewMask(131, 40)
	for i := range m.Pix {
		if rng.Float64() < 0.01 {
			m.Pix[i] = 1
		}
	}
	near := func(m raster.Mask, r float64, want uint8) raster.Mask {
		out := raster.NewMask(m.W, m.H)
		k := int(r)
		for i := range out.Pix {
			x, y := i%m.W, i/m.W
			for dy := -k; dy <= k; dy++ {
				for dx := -k; dx <= k; dx++ {
					u, v := x+dx, y+dy
					if u >= 0 && v >= 0 && u < m.W && v < m.H && math.Hypot(float64(dx), float64(dy)) <= r && m.Pix[v*m.W+u] == want {
						out.Pix[i] = 1
					}
				}
			}
		}
		return out
	}
	for _, r := range []float64{1, 2, 3.5, 7, 16, 70} {
		assert.Equal(t, near(m, r, 1), dilated(m, r), "grown by %g", r)
	}
	thick := dilated(m, 4)
	for _, r := range []float64{2, 5} {
		assert.Equal(t, near(inverse(near(thick, r, 0)), r, 1), opened(thick, r), "opened by %g", r)
	}
}
