package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/uncert"
)

const (
	sections   = 9    // side by side
	maxTiltDeg = 24.0 // of an edge against the square to the drawn line
	tiltSteps  = 13
	jointLeast = 2.0 // as leastEdge, of the mean of all sections, whose noise is less
)

// Over how much of a part its width is taken, and how far from where a hand set it an edge may lie (chosen by eye; what they bring is
// measured by the simulated widths of this package's tests).
const (
	stripShare            = 0.08 // half the sections' spread along the part, as a share of the width
	leastStripMM          = 0.6
	mostStripMM           = 2.0
	handsBeyond           = 2.0  // profiles go on beyond the drawn ends by so many of the hand's uncertainties
	spreadsBeyond         = 3.0  // and by at least so many edge widths
	handsToEdge           = 1.2  // how far from a drawn end its edge is looked for
	mostOfWidth           = 0.45 // of the width: each end has its own half
	spreadsToEdge         = 1.2  // how far from the joint edge a section's own may lie
	robustDeviations      = 3.0  // a section farther off than this is left out (common practice)
	leastDeviationPx      = 0.5
	medianToMeanDeviation = 1.2533 // the standard deviation of a median of normal values is sqrt(pi/2) that of their mean
)

// widthFound is a width across a part.
type widthFound struct {
	mm, spreadU float64 // median of the sections, and the standard uncertainty of it that their spread gives
	ends        [2]geom.MM
	found       [2]bool // an edge at either end
	at          geom.MM // the middle
}

// across measures the width of a part along the straight way from a to b, drawn to the edges near both.
func (in *Input) across(a, b geom.MM, sc scales) widthFound {
	l := math.Hypot(b.X-a.X, b.Y-a.Y)
	dir := geom.MM{X: (b.X - a.X) / l, Y: (b.Y - a.Y) / l}
	side := geom.MM{X: -dir.Y, Y: dir.X}
	w := widthFound{mm: l, ends: [2]geom.MM{a, b}, at: geom.MM{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}}
	half := math.Min(mostStripMM, math.Max(leastStripMM, stripShare*l))
	beyond := math.Max(handsBeyond*sc.handMM, spreadsBeyond*sc.spreadMM)
	profs := make([]profile, sections)
	off := make([]float64, sections)
	for i := range profs {
		off[i] = half * (2*float64(i)/(sections-1) - 1)
		o := geom.MM{X: a.X + off[i]*side.X, Y: a.Y + off[i]*side.Y}
		profs[i] = in.take(sc.fine(transect{origin: o, dir: dir, side: side, from: -beyond, to: l + beyond, halfSide: half / sections}))
	}
	var t [2][]float64 // at each section, NaN where there is none
	var tilt [2]float64
	for end, at := range [2]float64{0, l} {
		place, slope, ok := jointEdge(profs, off, at, sc, math.Min(handsToEdge*sc.handMM, mostOfWidth*l))
		w.found[end] = ok
		if !ok {
			continue
		}
		t[end], tilt[end] = refineEdge(profs, off, place, slope, sc)
		if t[end] == nil {
			w.found[end] = false
		}
	}
	if !w.found[0] || !w.found[1] {
		for end := range t {
			if w.found[end] {
				m := uncert.Median(finite(t[end]))
				w.ends[end] = geom.MM{X: a.X + m*dir.X, Y: a.Y + m*dir.Y}
			}
		}
		w.mm = math.Hypot(w.ends[1].X-w.ends[0].X, w.ends[1].Y-w.ends[0].Y)
		return w
	}
	// The part runs along the mean of its two edges; its width is square to that.
	cos := math.Cos(math.Atan((tilt[0] + tilt[1]) / 2))
	var v []float64
	for i := range off {
		if d := t[1][i] - t[0][i]; !math.IsNaN(d) {
			v = append(v, d*cos)
		}
	}
	if len(v) == 0 {
		w.found = [2]bool{}
		return w
	}
	w.mm = uncert.Median(append([]float64(nil), v...))
	w.spreadU = medianToMeanDeviation * spreadOf(v, w.mm) / math.Sqrt(float64(len(v)))
	// For drawing: square to the part through the middle of the drawn line.
	m0, m1 := uncert.Median(finite(t[0])), uncert.Median(finite(t[1]))
	mid := (m0 + m1) / 2
	s := math.Sin(math.Atan((tilt[0] + tilt[1]) / 2))
	w.at = geom.MM{X: a.X + mid*dir.X, Y: a.Y + mid*dir.Y}
	for end, sign := range [2]float64{-0.5, 0.5} {
		w.ends[end] = geom.MM{X: w.at.X + sign*w.mm*(cos*dir.X-s*side.X), Y: w.at.Y + sign*w.mm*(cos*dir.Y-s*side.Y)}
	}
	return w
}

// jointEdge finds the straight edge near a place that all sections share: where the gradients summed along it, the nearer the
// better, are largest. slope is mm along the sections a mm from section to section.
func jointEdge(profs []profile, off []float64, at float64, sc scales, reach float64) (place, slope float64, ok bool) {
	best := 0.0
	for k := range tiltSteps {
		tilt := math.Tan(maxTiltDeg * (2*float64(k)/(tiltSteps-1) - 1) * math.Pi / 180)
		for d := -reach; d <= reach; d += sc.mmPerPx / 2 {
			sum := 0.0
			for i := range profs {
				p := &profs[i]
				j := int(math.Round((at + d + tilt*off[i] - p.from) / p.step))
				if j >= 0 && j < len(p.grad) {
					sum += p.grad[j]
				}
			}
			sum /= float64(len(profs))
			if sum < jointLeast {
				continue
			}
			near := d / (0.75 * reach)
			if score := sum * math.Exp(-near*near/2) * (1 - 0.1*math.Abs(tilt)); score > best {
				best, place, slope, ok = score, at+d, tilt, true
			}
		}
	}
	return
}

// refineEdge places the edge in every section to a fraction of a pixel and fits a line to the places, twice, the second time
// without those that lie off it. nil where too few sections have it.
func refineEdge(profs []profile, off []float64, place, slope float64, sc scales) (t []float64, tilt float64) {
	t = make([]float64, len(profs))
	good := 0
	for i := range profs {
		x, ok := profs[i].halfLevel(place+slope*off[i], sc.spreadMM)
		if !ok || math.Abs(x-place-slope*off[i]) > spreadsToEdge*sc.spreadMM {
			t[i] = math.NaN()
			continue
		}
		t[i] = x
		good++
	}
	if good < (len(profs)+1)/2 {
		return nil, 0
	}
	for range 2 {
		a, b := fitLine(off, t)
		var res []float64
		for i := range t {
			if !math.IsNaN(t[i]) {
				res = append(res, math.Abs(t[i]-a-b*off[i]))
			}
		}
		limit := math.Max(robustDeviations*uncert.DeviationOfMedian*uncert.Median(res), leastDeviationPx*sc.mmPerPx)
		for i := range t {
			if !math.IsNaN(t[i]) && math.Abs(t[i]-a-b*off[i]) > limit {
				t[i] = math.NaN()
			}
		}
		tilt = b
	}
	return t, tilt
}

// fitLine is the least squares line through values that are numbers.
func fitLine(x, y []float64) (a, b float64) {
	var n, sx, sy float64
	for i := range x {
		if !math.IsNaN(y[i]) {
			n, sx, sy = n+1, sx+x[i], sy+y[i]
		}
	}
	if n == 0 {
		return math.NaN(), 0
	}
	mx, my := sx/n, sy/n
	var sxx, sxy float64
	for i := range x {
		if !math.IsNaN(y[i]) {
			sxx += (x[i] - mx) * (x[i] - mx)
			sxy += (x[i] - mx) * (y[i] - my)
		}
	}
	if sxx == 0 {
		return my, 0
	}
	b = sxy / sxx
	return my - b*mx, b
}

// spreadOf is the standard deviation of values about m as their absolute deviations tell it.
func spreadOf(v []float64, m float64) float64 {
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	return uncert.DeviationOfMedian * uncert.Median(d)
}

func finite(v []float64) (out []float64) {
	for _, x := range v {
		if !math.IsNaN(x) {
			out = append(out, x)
		}
	}
	return
}
