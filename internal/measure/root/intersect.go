package root

import (
	"math"

	"phototrack/internal/raster"
)

// lineIntersect estimates root length, mm, from the mask alone, by counting how often lines of a grid on the wall cross a
// root: on a square grid of spacing G, L = pi/4 N G (Newman 1966, J. Appl. Ecol. 3:139-145; the 11/14 of Tennant 1975,
// J. Ecol. 63:995-1001, is pi/4 to a part in 2500). It takes roots to run in all directions alike.
func lineIntersect(s *sheet, m raster.Mask) float64 {
	const nickMM = 0.8 // a shorter run of mask is no root
	inside := raster.NewMask(m.W, m.H)
	for y := range m.H {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		for x := range m.W {
			if math.Abs(float64(x)-s.Mid) <= r*math.Sin(limitAzimuth) {
				inside.Pix[y*m.W+x] = m.Pix[y*m.W+x]
			}
		}
	}
	// a column one step wide in the view is 1/cos(azimuth) steps of wall
	weight := func(x, y int) float64 {
		sin := (float64(x) - s.Mid) * s.Step / s.s.Radius(float64(y)*s.Step/s.slant)
		return 1 / math.Sqrt(math.Max(leastCos2, 1-sin*sin))
	}
	return s.Step * lineCount(inside, int(nickMM/s.Step), weight)
}

// lineCount is pi/4 N G, px, with lines laid along every row and every column of the mask, which is the mean over all
// offsets of a grid of any spacing. Runs of mask shorter than nick px do not count; a crossing with a column counts
// weight, which is asked for at the middle of the run.
func lineCount(m raster.Mask, nick int, weight func(x, y int) float64) float64 {
	var n float64
	// cross calls at for the runs along one line of the mask, of so many pixels from the first on: their length and where they end.
	cross := func(first, step, pixels int, at func(run, end int)) {
		run := 0
		for k := 0; k <= pixels; k++ {
			if k < pixels && m.Pix[first+k*step] != 0 {
				run++
				continue
			}
			if run > 0 && run >= nick {
				at(run, k)
			}
			run = 0
		}
	}
	for y := range m.H {
		cross(y*m.W, 1, m.W, func(run, end int) { n++ })
	}
	for x := range m.W {
		cross(x, m.W, m.H, func(run, end int) { n += weight(x, end-run/2) })
	}
	return math.Pi / 4 * n
}
