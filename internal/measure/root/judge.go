package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
)

// looks is what can be said of a strand from the picture.
type looks struct {
	contrast float64   // median over its points of the colour step to the fainter side
	diameter float64   // mm, median
	ragged   float64   // half the range of its width over its width, crossings apart
	green    float64   // median a*
	inStreak float64   // share of its points that lie in a mirrored window
	above    float64   // share of its points above the filling, or just under its edge
	inKeep   float64   // share of its points that lie in areas the grower wants kept
	atEdge   bool      // it ends, far round the pot, at the edge of what can be judged
	points   []float64 // colour step at every point; NaN where neither side can be judged
}

const (
	leastStep    = 8.2  // a strand, or an end of one, that differs less than this from a side of it is no root
	sureStep     = 14.0 // one that differs more is surely one
	plainGreen   = -7.0 // a*: nothing but a root is this green below the leaves, be it ever so short
	mostDiameter = 9.5  // mm, by the mask, which is half a mm too wide; roots have 1.5 to 8
	leastLength  = 7.0  // mm; shorter pieces are crumbs
)

// colourStep is a colour distance between a root and what lies beside it, CIELAB units weighted for this task: light
// changes from place to place, so lightness counts least; what parts roots from bark is a*.
func colourStep(a, b [3]float32) float64 {
	dl, da, db := float64(a[0]-b[0]), float64(a[1]-b[1]), float64(a[2]-b[2])
	return math.Sqrt(0.35*dl*dl + 3*da*da + 0.6*db*db)
}

func (s *sheet) colour(p skeleton.Pt) ([3]float32, int, bool) {
	x, y := int(p.X+0.5), int(p.Y+0.5)
	if x < 0 || y < 0 || x >= s.W || y >= s.H || s.Seen.Pix[y*s.W+x] == 0 {
		return [3]float32{}, 0, false
	}
	i := y*s.W + x
	return [3]float32{s.L.Pix[i], s.A.Pix[i], s.B.Pix[i]}, i, true
}

// judge compares a strand with what lies on either side of it. A root differs from both sides; an edge between two
// kinds of background differs from one.
func judge(s *sheet, mask, streaks raster.Mask, st *strand) {
	n := len(st.px)
	f := looks{points: make([]float64, n)}
	r := median(st.src.Radius)
	f.diameter = 2 * r * s.Step
	out := r + 0.8/s.Step
	var known, widths, red []float64
	for i := range st.px {
		f.points[i] = math.NaN()
		c, k, ok := s.colour(st.px[i])
		if !ok {
			continue
		}
		red = append(red, float64(c[1]))
		if streaks.Pix[k] != 0 {
			f.inStreak += 1 / float64(n)
		}
		if !st.src.Bridged[i] {
			widths = append(widths, st.src.Radius[i])
		}
		nx, ny := normal(st.px, i)
		least := math.Inf(1)
		for _, k := range [2]float64{-out, out} {
			e, j, ok := s.colour(skeleton.Pt{X: st.px[i].X + k*nx, Y: st.px[i].Y + k*ny})
			if ok && mask.Pix[j] == 0 { // else another root lies there, or nothing is seen
				least = math.Min(least, colourStep(c, e))
			}
		}
		if !math.IsInf(least, 1) {
			f.points[i] = least
			known = append(known, least)
		}
	}
	f.contrast, f.green = quantile(known, 0.5), quantile(red, 0.5)
	if len(widths) > 5 {
		f.ragged = (quantile(widths, 0.9) - quantile(widths, 0.1)) / (2 * median(widths))
	}
	st.looks = f
}

func normal(p []skeleton.Pt, i int) (x, y float64) {
	a, b := p[max(0, i-4)], p[min(len(p)-1, i+4)]
	l := a.Dist(b)
	if l == 0 {
		return 0, 0
	}
	return -(b.Y - a.Y) / l, (b.X - a.X) / l
}

// trimFaint drops the ends of a strand that do not differ from both sides: there the mask has run on along an edge of the
// filling. The colour step is taken as the median over +-2 mm.
func trimFaint(st *strand, stepMM float64) {
	reach := int(2 / stepMM)
	n := len(st.px)
	clear := func(i int) bool {
		var near []float64
		for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
			if v := st.looks.points[j]; !math.IsNaN(v) {
				near = append(near, v)
			}
		}
		return len(near) == 0 || median(near) >= st.leastAt(i)
	}
	lo, hi := 0, n-1
	for lo < n && !clear(lo) {
		lo++
	}
	for hi > lo && !clear(hi) {
		hi--
	}
	// The window reaches over the edge by half its width: what was dropped ends there.
	for i := range n {
		if i < lo || i > hi {
			st.kept[i] = false
		}
	}
}

// isRoot says whether the strand is taken for a root, and how likely it is one (0..1).
func isRoot(st *strand, lengthMM float64) (taken bool, likely float64) {
	c := st.looks.contrast
	if isKept(st, lengthMM) {
		return true, math.Max(keepSure, likelyBy(c))
	}
	if math.IsNaN(c) {
		return lengthMM > 2*leastLength, 0.5
	}
	likely = likelyBy(c)
	if st.looks.inStreak > 0.5 && (lengthMM < 18 || c < sureStep) {
		return false, 0.3 * likely
	}
	if (st.looks.above > 0.5 || st.looks.atEdge) && lengthMM < 12 && st.looks.green > plainGreen {
		return false, 0.3 * likely
	}
	if st.looks.diameter > mostDiameter { // stones, moss, a gap in the bark
		return false, 0.3 * likely
	}
	if lengthMM < leastLength || lengthMM < 1.6*st.looks.diameter {
		return false, 0.3 * likely
	}
	if lengthMM < 15 && c < 11 { // a short piece has to be plain
		return false, 0.5 * likely
	}
	return c >= leastStep, likely
}

// likelyBy is how likely a strand is a root by its colour step alone.
func likelyBy(step float64) float64 { return 1 / (1 + math.Exp(-(step-leastStep-1)/1.2)) }
