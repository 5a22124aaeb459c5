package change

import (
	"math"
	"sort"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// The noise of a change is intermediate precision (JCGM 200:2012, 2.22): card, plant and camera set up anew on another
// day. It is seen in how far a few sessions in a row, without an event, lie off a smooth trend: their divided difference
// has no straight line (three sessions) or parabola (four) in it and a known multiple of the noise variance (Gasser,
// Sroka & Jennen-Steinmetz 1986). Growth is judged on the log scale, where steady growth is a straight line.
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
	Tail          float64 // degrees of freedom of the Student's t that the noise is like; 200 is as good as normal
	spread        float64 // how many degrees of freedom the collection's factor is worth as a prior for a plant
}

const (
	// priorDF is the weight of the declared prior against the data, as if it came from so many degrees of freedom:
	// a handful of residuals must not overrule it, some dozens must.
	priorDF = 10.0
	// quietDays after an event are left out: growth bends there.
	quietDays = 92.0
	// minSpread and maxSpread bound how much a plant's own residuals can move its factor from the collection's.
	minSpread, maxSpread = 12.0, 200.0
	// fewSpread stands in while there are fewer than enoughDF degrees of freedom to tell it from.
	fewSpread, enoughDF = 40.0, 40.0
	// priorTail is the degrees of freedom of the t while nothing is known of the noise's tails.
	priorTail = 10.0
	// atBound is where a share is taken as empty or full: it cannot vary there and tells nothing of others' noise.
	atBound = 0.004
)

// maxRunDays: what is smooth over two or three months and a gap is not so over half a year.
var maxRunDays = map[int]float64{3: 125, 4: 160}

type residuals struct {
	s  *series
	ms float64 // mean square of the standardised residuals
	df float64 // effective degrees of freedom
	m  int     // residuals
	z4 float64 // sum of their fourth powers
	c4 float64 // and of their coefficients' fourth powers
}

func (a *analysis) estimateNoise() {
	a.noise = map[string]*Noise{}
	by := map[string][]residuals{}
	own := map[*series]residuals{}
	for _, s := range a.series {
		if a.noise[s.quantity] == nil {
			a.noise[s.quantity] = &Noise{Quantity: s.quantity, Factor: 1, Tail: priorTail, Repeatability: math.NaN()}
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
		s.shrink(own[s], n)
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
	u := s.kind.noise(p.Value, p.varying)
	v := u * u
	if p.Photos > 1 {
		r := n.repeatability(s.kind, p.Value)
		v = math.Max(v/2, v-r*r*(1-1/float64(p.Photos)))
	}
	return math.Sqrt(v)
}

// residualsOf standardises the residuals of a plant's undisturbed runs of sessions and counts their degrees of freedom
// (Satterthwaite 1946: neighbouring runs share sessions). Runs of four are used where there are any, which a bend of
// growth or a swing of the season hardly touches, else runs of three.
func (a *analysis) residualsOf(s *series) residuals {
	for _, size := range []int{4, 3} {
		if r := a.residualsOfRuns(s, size); r.df > 0 {
			return r
		}
	}
	return residuals{s: s}
}

// run is one residual: its place and the coefficients of the sessions' unit noise in it, of length 1.
type run struct {
	at int
	c  []float64
}

func (a *analysis) residualsOfRuns(s *series, size int) residuals {
	r := residuals{s: s}
	var runs []run
	sum := 0.0
	for i := 0; i+size <= len(s.points); i++ {
		p := s.points[i : i+size]
		if p[size-1].day-p[0].day > maxRunDays[size] || a.disturbed(s.plant, &p[0], &p[size-1]) || s.stuck(p) {
			continue
		}
		z, c, ok := s.residual(p)
		if !ok {
			continue
		}
		sum += z * z
		r.z4 += z * z * z * z
		for _, x := range c {
			r.c4 += x * x * x * x
		}
		runs = append(runs, run{i, c})
	}
	if len(runs) > 0 {
		m := float64(len(runs))
		r.ms, r.df, r.m = sum/m, m*m/traceOfSquare(runs), len(runs)
	}
	return r
}

// residual is the divided difference of the run, on the scale where its noise has standard deviation 1.
func (s *series) residual(p []point) (z float64, c []float64, ok bool) {
	c = make([]float64, len(p))
	e, v := 0.0, 0.0
	for i := range p {
		w := 1.0
		for j := range p {
			if j != i {
				w *= MonthDays / (p[i].day - p[j].day)
			}
		}
		y, u := p[i].y, p[i].UVarying
		if s.kind.relative {
			if y <= 0 {
				return 0, nil, false
			}
			y, u = math.Log(y), u/y
		}
		e += w * y
		c[i] = w * u
		v += c[i] * c[i]
	}
	if !(v > 0) {
		return 0, nil, false
	}
	for i := range c {
		c[i] /= math.Sqrt(v)
	}
	return e / math.Sqrt(v), c, true
}

// traceOfSquare is the sum of the squared correlations of all pairs of residuals.
func traceOfSquare(runs []run) float64 {
	sum := float64(len(runs))
	for i := range runs {
		for j := i + 1; j < len(runs); j++ {
			shift := runs[j].at - runs[i].at
			if shift >= len(runs[i].c) {
				break
			}
			c := 0.0
			for k := shift; k < len(runs[i].c); k++ {
				c += runs[i].c[k] * runs[j].c[k-shift]
			}
			sum += 2 * c * c
		}
	}
	return sum
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
	n.spread, n.Tail = fewSpread, priorTail
	if df < enoughDF {
		return
	}
	n.Tail = tailOf(list[:keep], ms)
	n.spread = maxSpread
	if v := num / den; v > 0 { // relative variance of an inverse chi-square of d degrees of freedom is 2/(d-4)
		n.spread = math.Min(maxSpread, math.Max(minSpread, 4+2/v))
	}
}

// tailOf finds how heavy the tails of a session's noise are: the Student's t with its kurtosis. A residual has as much of
// a session's excess kurtosis as its coefficients' fourth powers sum to. A change takes the session's tail, not the
// lighter one of a difference's kurtosis, because what lies far out is nearly always the work of one session. Excess
// within its own sampling error, square root of 24/m, is none.
func tailOf(list []residuals, ms float64) float64 {
	m, z4, c4 := 0.0, 0.0, 0.0
	for _, r := range list {
		m += float64(r.m)
		z4 += r.z4
		c4 += r.c4
	}
	excess := z4/m/(ms*ms) - 3
	if excess < math.Sqrt(24/m) {
		return maxSpread
	}
	return math.Min(maxSpread, 4+6*(c4/m)/excess)
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

// minPlantDF: a plant's own residuals count from here on, seven or eight sessions. With fewer, the very change that is
// judged would make up much of the noise that it is judged by.
const minPlantDF = 4.0

// shrink sets a plant's factor: the collection's, drawn towards its own residuals the more so the more sessions it has
// and the less alike the plants are. Plants' variances are taken as scaled inverse chi-square with d degrees of freedom,
// whose mean is d/(d-2) of its scale; a change over the noise is then Student's t with d and the plant's own degrees of
// freedom (the moderated t of Smyth 2004).
//
// Heavy tails make the t heavier still. While there are no data its tails are those of priorTail: the interval hardly
// changes (its variance is kept), but what stands far out is not taken for surer than it is.
func (s *series) shrink(r residuals, n *Noise) {
	d, tail, own := n.spread, n.Tail, r.df
	if n.DF == 0 {
		d, tail = maxSpread, priorTail
	}
	if own < minPlantDF {
		own = 0
	}
	v := ((d-2)*n.Factor*n.Factor + own*r.ms) / (d + own - 2)
	s.df = math.Min(d+own, tail)
	s.scale = math.Sqrt(v * (s.df - 2) / s.df)
	if t := n.totalDF(); t < s.df { // the collection's factor itself is the least known
		s.df, s.scale = t, math.Sqrt(v)
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
