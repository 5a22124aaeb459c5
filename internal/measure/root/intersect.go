package root

import (
	"math"

	"phototrack/internal/raster"
)

// lineIntersect estimates root length from the mask alone, by counting how often lines of a grid on the wall cross a
// root: on a square grid of spacing G, L = pi/4 N G (Newman 1966, J. Appl. Ecol. 3:139-145; the 11/14 of Tennant 1975,
// J. Ecol. 63:995-1001, is pi/4 to a part in 2500). Lines are laid at every row and column of the frontal view, which
// is the mean over all offsets of the grid; it takes roots to run in all directions alike.
func lineIntersect(s *sheet, m raster.Mask) float64 {
	const leastMM = 0.8 // a shorter run is a nick
	least := int(leastMM / s.Step)
	inside := func(x, y int) bool {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		return math.Abs(float64(x)-s.Mid) <= r*math.Sin(limitAzimuth)
	}
	var rows, cols float64
	for y := range s.H {
		run := 0
		for x := 0; x <= s.W; x++ {
			if x < s.W && m.Pix[y*s.W+x] != 0 && inside(x, y) {
				run++
				continue
			}
			if run >= least {
				rows += s.Step // each row stands for a strip one step high
			}
			run = 0
		}
	}
	for x := range s.W {
		run := 0
		for y := 0; y <= s.H; y++ {
			if y < s.H && m.Pix[y*s.W+x] != 0 && inside(x, y) {
				run++
				continue
			}
			if run >= least {
				// a column one step wide in the view is 1/cos(azimuth) steps of wall
				sin := (float64(x) - s.Mid) * s.Step / s.s.Radius(float64(y-run/2)*s.Step/s.slant)
				cols += s.Step / math.Sqrt(math.Max(0.2, 1-sin*sin))
			}
			run = 0
		}
	}
	return math.Pi / 4 * (rows + cols)
}
