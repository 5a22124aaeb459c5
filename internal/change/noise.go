package change

import (
	"math"
	"sort"
	"sync"

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
	Quantity      record.QuantityName
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

func (a *analysis) estimateNoise() {
	a.noise = map[record.QuantityName]*Noise{}
	by := map[record.QuantityName][]residuals{}
	own := make([]residuals, len(a.series))
	for _, s := range a.series {
		if s.kind.exact {
			continue
		}
		if a.noise[s.quantity] == nil {
			a.noise[s.quantity] = &Noise{Quantity: s.quantity, Factor: 1, Tail: priorTail, Repeatability: math.NaN()}
		}
		a.noise[s.quantity].addReplicates(s)
	}
	each(len(a.series), func(j int) {
		s := a.series[j]
		if s.kind.exact {
			return
		}
		n := a.noise[s.quantity]
		for i := range s.points {
			s.points[i].UVarying = s.predicted(&s.points[i], n)
		}
		own[j] = a.residualsOf(s)
	})
	for j, r := range own {
		if q := a.series[j].quantity; r.df > 0 {
			by[q] = append(by[q], r)
		}
	}
	for q, list := range by {
		a.noise[q].pool(list)
	}
	var known halfWidths
	each(len(a.series), func(j int) {
		s := a.series[j]
		if s.kind.exact {
			return
		}
		n := a.noise[s.quantity]
		s.shrink(own[j], n)
		s.k95 = known.of(s.df)
		for i := range s.points {
			s.points[i].UVarying *= s.scale
			s.points[i].finish(s.kind, n)
		}
	})
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

const (
	leastOthersDF  = 10.0 // degrees of freedom of all others, with which a plant can be called out of proportion (chosen by eye)
	leastFinite    = 4.0  // of Student's t the kurtosis, of the inverse chi-square the variance, is finite from more degrees of freedom on
	normalKurtosis = 3.0
	excessOfT      = 6.0 // the excess kurtosis of Student's t is 6/(df-4)
)

// pool makes the collection's factor from all plants' residuals and the prior, and finds how alike the plants are. A
// plant whose residuals are out of all proportion (something happened to it that nobody wrote down) is left out, at
// most one in ten.
func (n *Noise) pool(list []residuals) {
	sort.Slice(list, func(i, j int) bool { return list[i].ms < list[j].ms })
	keep := len(list)
	for keep > 1 && len(list)-keep < len(list)/10 {
		ms, df := meanSquare(list[:keep-1])
		worst := list[keep-1]
		if df < leastOthersDF || worst.ms < ms*outlierRatio(worst.df) {
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
		n.spread = math.Min(maxSpread, math.Max(minSpread, leastFinite+2/v))
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
	excess := z4/m/(ms*ms) - normalKurtosis
	if excess < math.Sqrt(24/m) {
		return maxSpread
	}
	return math.Min(maxSpread, leastFinite+excessOfT*(c4/m)/excess)
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

// halfWidths keeps the quantiles of Student's t: plants with as many sessions as each other have the same degrees of freedom, and a
// quantile takes longer than all the rest of a plant's noise.
type halfWidths struct {
	mu    sync.Mutex
	found map[float64]float64
}

func (k *halfWidths) of(df float64) float64 {
	k.mu.Lock()
	defer k.mu.Unlock()
	q, ok := k.found[df]
	if !ok {
		if k.found == nil {
			k.found = map[float64]float64{}
		}
		q = tQuantile(df)
		k.found[df] = q
	}
	return q
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
