package change

import (
	"math"
	"sort"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// The noise of a change is intermediate precision (JCGM 200:2012, 2.22): card, plant and camera set up anew on another
// day. It is seen in how far a session lies off the line between its neighbours: over three sessions in a row without
// an event, y2 - (w1 y1 + w3 y3) has no trend in it and a known multiple of the noise variance (Gasser, Sroka &
// Jennen-Steinmetz 1986). Growth is judged on the log scale, where steady growth is a straight line.
//
// Each session has a predicted noise: the budget's varying terms and the prior, in quadrature. What the data tell is
// one factor on it, for the collection and then for each plant: so a tilted photo stays less sure than a square one.

// Noise is what was found for one quantity.
type Noise struct {
	Quantity      string
	Factor        float64 // noise seen over noise predicted, collection-wide; 1 while there are no data
	DF            float64 // degrees of freedom behind it, 0 for none
	Plants        int     // that gave data
	Repeatability float64 // standard deviation of replicates, in the unit (relative where growth is), NaN for none
	RepeatDF      int
	spread        float64 // how many degrees of freedom the collection's factor is worth as a prior for a plant
}

const (
	// priorDF is the weight of the declared prior against the data, as if it came from so many degrees of freedom:
	// a handful of triples must not overrule it, some dozens must.
	priorDF = 10.0
	// maxTripleDays: a line between neighbours is a smooth trend over two months and gaps, not over half a year.
	maxTripleDays = 125.0
	// quietDays after an event are left out: growth bends there.
	quietDays = 92.0
	// minSpread and maxSpread bound how much a plant's own residuals can move its factor from the collection's.
	minSpread, maxSpread = 12.0, 200.0
	// atBound is where a share is taken as empty or full: it cannot vary there and tells nothing of others' noise.
	atBound = 0.004
)

type residuals struct {
	s  *series
	ms float64 // mean square of the standardised residuals
	df float64 // effective degrees of freedom
}

func (a *analysis) estimateNoise() {
	a.noise = map[string]*Noise{}
	by := map[string][]residuals{}
	own := map[*series]residuals{}
	for _, s := range a.series {
		if a.noise[s.quantity] == nil {
			a.noise[s.quantity] = &Noise{Quantity: s.quantity, Factor: 1, Repeatability: math.NaN()}
		}
		a.noise[s.quantity].addReplicates(s)
	}
	for _, s := range a.series {
		n := a.noise[s.quantity]
		for i := range s.points {
			s.points[i].UVarying = s.predicted(&s.points[i], n)
		}
		if r := a.residualsOf(s); r.df > 0 {
			by[s.quantity] = append(by[s.quantity], r)
			own[s] = r
		}
	}
	for q, list := range by {
		a.noise[q].pool(list)
	}
	for _, s := range a.series {
		n := a.noise[s.quantity]
		s.scale, s.df = n.Factor, n.totalDF()
		if r, ok := own[s]; ok {
			s.shrink(r, n)
		}
		for i := range s.points {
			s.points[i].UVarying *= s.scale
			s.points[i].finish(s.kind, n)
		}
	}
}

// addReplicates pools the spread of replicates over sessions.
func (n *Noise) addReplicates(s *series) {
	for i := range s.points {
		p := &s.points[i]
		if p.Photos < 2 {
			continue
		}
		v := p.within
		if s.kind.relative && p.Value > 0 {
			v /= p.Value * p.Value
		}
		df := p.Photos - 1
		old := n.Repeatability * n.Repeatability
		if n.RepeatDF == 0 {
			old = 0
		}
		n.Repeatability = math.Sqrt((old*float64(n.RepeatDF) + v*float64(df)) / float64(n.RepeatDF+df))
		n.RepeatDF += df
	}
}

// minRepeatDF replicates are needed before repeatability is believed.
const minRepeatDF = 4

// repeatability of one photo of this value, in the quantity's unit; 0 where it is not known.
func (n *Noise) repeatability(k kind, value float64) float64 {
	switch {
	case n.RepeatDF < minRepeatDF:
		return 0
	case k.relative:
		return n.Repeatability * math.Abs(value)
	default:
		return n.Repeatability
	}
}

// predicted is a session's noise before data are looked at. The prior is for one photo; of it, repeatability falls with
// the number of photos, what was set up once that day does not.
func (s *series) predicted(p *point, n *Noise) float64 {
	v := p.varying*p.varying + s.kind.prior(p.Value)*s.kind.prior(p.Value)
	if p.Photos > 1 {
		r := n.repeatability(s.kind, p.Value)
		v = math.Max(v/2, v-r*r*(1-1/float64(p.Photos)))
	}
	return math.Sqrt(v)
}

// residualsOf standardises the residuals of a plant's undisturbed triples and counts their degrees of freedom
// (Satterthwaite 1946: neighbouring triples share sessions).
func (a *analysis) residualsOf(s *series) residuals {
	r := residuals{s: s}
	type row struct {
		at int
		c  [3]float64 // coefficients on unit noise
	}
	var rows []row
	sum := 0.0
	for i := 1; i+1 < len(s.points); i++ {
		p := s.points[i-1 : i+2]
		if p[2].day-p[0].day > maxTripleDays || a.disturbed(s.plant, &p[0], &p[2]) || s.stuck(p) {
			continue
		}
		w := (p[2].day - p[1].day) / (p[2].day - p[0].day)
		weights := [3]float64{-w, 1, w - 1}
		e, v := 0.0, 0.0
		for k := range p {
			y, u := p[k].y, p[k].UVarying
			if s.kind.relative {
				if p[k].y <= 0 {
					v = math.NaN()
					break
				}
				y, u = math.Log(p[k].y), p[k].UVarying/p[k].y
			}
			e += weights[k] * y
			v += weights[k] * weights[k] * u * u
			weights[k] *= u
		}
		if !(v > 0) {
			continue
		}
		sum += e * e / v
		for k := range weights {
			weights[k] /= math.Sqrt(v)
		}
		rows = append(rows, row{i, weights})
	}
	if len(rows) == 0 {
		return r
	}
	m := float64(len(rows))
	squares := m
	for i := range rows {
		for j := i + 1; j < len(rows) && rows[j].at-rows[i].at <= 2; j++ {
			shift, c := rows[j].at-rows[i].at, 0.0
			for k := shift; k < 3; k++ {
				c += rows[i].c[k] * rows[j].c[k-shift]
			}
			squares += 2 * c * c
		}
	}
	r.ms, r.df = sum/m, m*m/squares
	return r
}

// disturbed says whether something was done to the plant within the triple or shortly before it, or another face of
// the pot was seen.
func (a *analysis) disturbed(plant int, first, last *point) bool {
	if first.face != last.face {
		return true
	}
	for _, e := range a.splitting(plant) {
		d := dayNumber(e.Date)
		if d >= first.day-quietDays && d < last.day {
			return true
		}
	}
	return false
}

// stuck says that all three values are an empty or a full share.
func (s *series) stuck(p []point) bool {
	if s.unit != "1" || s.kind.absolute > 0.05 {
		return false
	}
	low, high := true, true
	for i := range p {
		low = low && p[i].Value < atBound
		high = high && p[i].Value > 1-atBound
	}
	return low || high
}

// pool makes the collection's factor from all plants' residuals and the prior, and finds how alike the plants are. A
// plant whose residuals are out of all proportion (something happened to it that nobody wrote down) is left out, at
// most one in ten.
func (n *Noise) pool(list []residuals) {
	sort.Slice(list, func(i, j int) bool { return list[i].ms < list[j].ms })
	keep := len(list)
	for keep > 1 && len(list)-keep < len(list)/10 {
		ms, df := meanSquare(list[:keep-1])
		worst := list[keep-1]
		if df < 10 || worst.ms < ms*outlierRatio(worst.df) {
			break
		}
		keep--
	}
	ms, df := meanSquare(list[:keep])
	n.DF, n.Plants = df, keep
	n.Factor = math.Sqrt((priorDF + df*ms) / (priorDF + df))
	var num, den float64
	for _, r := range list[:keep] {
		d := r.ms/ms - 1
		num += r.df * (d*d - 2/r.df)
		den += r.df * (1 + 2/r.df)
	}
	n.spread = maxSpread
	if v := num / den; v > 0 { // relative variance of an inverse chi-square of d degrees of freedom is 2/(d-4)
		n.spread = math.Min(maxSpread, math.Max(minSpread, 4+2/v))
	}
}

// outlierRatio is about the upper 1 in 10,000 point of a mean square with df degrees of freedom (Wilson & Hilferty
// 1931), doubled so that heavy tails alone do not count as a mishap.
func outlierRatio(df float64) float64 {
	c := 2 / (9 * df)
	return 2 * math.Pow(1-c+3.72*math.Sqrt(c), 3)
}

func meanSquare(list []residuals) (ms, df float64) {
	for _, r := range list {
		ms += r.ms * r.df
		df += r.df
	}
	return ms / df, df
}

// totalDF is that of the blend of prior and data (GUM G.4.1: the prior is taken as known).
func (n *Noise) totalDF() float64 {
	if n.DF == 0 {
		return math.Inf(1)
	}
	part := n.DF / (priorDF + n.DF)
	return n.DF / (part * part)
}

// shrink draws a plant's own factor towards the collection's, the more so the fewer sessions it has and the more alike
// the plants are.
func (s *series) shrink(r residuals, n *Noise) {
	v := (n.spread*n.Factor*n.Factor + r.df*r.ms) / (n.spread + r.df)
	s.scale = math.Sqrt(v)
	if d := n.spread + r.df; n.spread < maxSpread && d < s.df {
		s.df = d
	}
}

// finish sets the session's absolute interval: the budget and the repeatability of the mean.
func (p *point) finish(k kind, n *Noise) {
	terms := uncert.Combine(p.common, p.terms)
	if r := n.repeatability(k, p.Value); r > 0 && p.Photos > 0 {
		terms = append(terms, uncert.Normal("repeatability", r/math.Sqrt(float64(p.Photos))))
	}
	p.U95 = uncert.U95(terms)
}

func (a *analysis) noises() []Noise {
	out := make([]Noise, 0, len(a.noise))
	for _, n := range a.noise {
		out = append(out, *n)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Quantity < out[j].Quantity })
	return out
}

// routine is how often in a year an event may come and still part a series into before and after; what is done more
// often (watering) parts nothing.
const routine = 6

// splitting are a plant's events that part its series into phases.
func (a *analysis) splitting(plant int) []record.Event {
	if out, ok := a.splits[plant]; ok {
		return out
	}
	var out []record.Event
	for _, e := range a.events[plant] {
		n := 0
		for _, o := range a.events[plant] {
			if o.Kind == e.Kind && math.Abs(dayNumber(o.Date)-dayNumber(e.Date)) <= 183 {
				n++
			}
		}
		if n <= routine {
			out = append(out, e)
		}
	}
	a.splits[plant] = out
	return out
}
