package change

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// A plant seen far off axis looks larger or smaller by being put back a little turned: a third of the slope's term is
// noise between days, although it is common to all photos as far as the plant's own shape goes.
func TestTurnedPlantSeenOffAxis(t *testing.T) {
	run := func(slope float64) record.Change {
		photos := []record.Photo{leaf(1, "2025-06-01", 10000), leaf(1, "2025-07-01", 10000)}
		for i := range photos {
			q := &photos[i].Quantities[0]
			*q = uncert.Quantity(q.Name, q.Unit, q.Value, append(q.Terms, uncert.Common(uncert.Normal(slopeTerm, slope)))...)
		}
		return find(t, analyse(photos, nil), record.BasisLast, "2025-07-01")
	}
	square, aside := run(0), run(580)
	// The prior is 70 and 20 mm2 in quadrature, the budget's own part 70 / sqrt 3 and 20.
	// 580 mm2 for 5.8 degrees is 200 mm2 for 2, on either side of the difference.
	extra := math.Sqrt(aside.U95*aside.U95-square.U95*square.U95) / square.U95 * math.Hypot(math.Hypot(70, 20), math.Hypot(70/math.Sqrt(3), 20))
	assert.InDelta(t, 200, extra, 1)
}
