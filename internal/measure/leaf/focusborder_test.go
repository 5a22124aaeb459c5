package leaf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The share of an edge's rise in a window of 2a px about it is erf(a / (sqrt(2) sigma)) for a Gaussian spread sigma, over
// that of the wide window, here 6 px between means; beside a slow slope too.
func TestContactOfDrawnEdges(t *testing.T) {
	for _, c := range []struct {
		name         string
		sigma, slope float64
		sharp, blur  bool
	}{
		{"in focus", 0.7, 0, true, false},
		{"in focus, on a slope of light", 0.7, 1.5, true, false},
		{"twice the spread: neither", 1.5, 0, false, false},
		{"three and a half times the spread", 2.5, 0, false, true},
		{"far out of focus", 4, 0, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			img := newPicture(80, 40, 0, 0, 0)
			for y := range 40 {
				for x := range 80 {
					v := 90 + 30*math.Erf((float64(x)-40)/c.sigma/math.Sqrt2) + c.slope*(float64(x)-40)
					for k := range 3 {
						img.Pix[3*(y*80+x)+k] = uint8(max(0, math.Round(v)))
					}
				}
			}
			narrow, inFocus := contactScale(&Input{EdgeSpreadPx: 1.8})
			share, rise, ok := contactAt(img, 41, 20, 1, 0, narrow)
			require.True(t, ok)
			if c.slope == 0 {
				want := math.Erf(1/(c.sigma*math.Sqrt2)) / math.Erf(3/(c.sigma*math.Sqrt2))
				assert.InDelta(t, want, share, 0.06)
				assert.InDelta(t, 60*math.Erf(3/(c.sigma*math.Sqrt2)), rise, 6)
			}
			assert.Equal(t, c.sharp, share > contactSharp*inFocus)
			assert.Equal(t, c.blur, share < contactBlur*inFocus)
		})
	}
}
