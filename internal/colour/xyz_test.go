package colour

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAdaptCarriesWhiteToWhite(t *testing.T) {
	got := WhiteD50.Adapt(WhiteD50, WhiteD65)
	for i := range 3 {
		assert.InDelta(t, WhiteD65[i], got[i], 1e-9)
	}
	// Bruce Lindbloom's Bradford matrix from D50 to D65, its first row (from memory): 0.9555766 -0.0230393 0.0631636.
	for i, want := range []float64{0.9555766, -0.0230393, 0.0631636} {
		var e XYZ
		e[i] = 1
		assert.InDelta(t, want, e.Adapt(WhiteD50, WhiteD65)[0], 2e-4)
	}
}

func TestLabThereAndBack(t *testing.T) {
	for _, c := range []RGB{{0.5, 0.5, 0.5}, {0.9, 0.1, 0.05}, {0.001, 0.002, 0.0005}, {0, 0, 0}, {1, 1, 1}, {0.02, 0.3, 0.9}} {
		got := FromXYZ(c.Lab().XYZ(WhiteD65))
		for i := range 3 {
			assert.InDelta(t, c[i], got[i], 1e-6, "%v", c)
		}
	}
}

// The ICC's sRGB profiles give these D50 tristimulus values for the sRGB red primary (from memory): 0.4361 0.2225 0.0139.
func TestRedPrimaryUnderD50(t *testing.T) {
	got := RGB{1, 0, 0}.Lab().XYZ(WhiteD65).Adapt(WhiteD65, WhiteD50)
	for i, want := range []float64{0.4361, 0.2225, 0.0139} {
		assert.InDelta(t, want, got[i], 3e-4)
	}
}
