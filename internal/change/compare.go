package change

import (
	"math"
	"slices"
	"sort"

	"phototrack/internal/record"
	"phototrack/internal/words"
)

// changes compares every session of the period with up to four others: the last one, the same month a year earlier, the
// baseline, and the last one before an event. What is computed elsewhere joins in.
func (a *analysis) changes() []record.Change {
	of := make([][]record.Change, len(a.series))
	each(len(a.series), func(n int) {
		s := a.series[n]
		for i := range s.points {
			if a.inPeriod(s.points[i].Date) {
				of[n] = a.changesTo(of[n], s, i)
			}
		}
		if s.part == "" { // that no line was drawn is no fault of a photo
			of[n] = a.unseen(of[n], s)
		}
	})
	out := slices.Concat(of...)
	for _, c := range a.in.Extra {
		if a.inPeriod(c.ToDate) {
			out = append(out, a.complete(c))
		}
	}
	adjust(out)
	each(len(out), func(i int) {
		if out[i].Sentence == "" {
			out[i].Sentence = changeSentence(&out[i])
		}
	})
	return out
}

// changesTo appends the comparisons of session i.
func (a *analysis) changesTo(out []record.Change, s *series, i int) []record.Change {
	to := &s.points[i]
	if i > 0 {
		out = append(out, a.compare(s, &s.points[i-1], to, record.BasisLast, ""))
	} else {
		out = append(out, a.oneSided(s, side{day: a.dayBefore(s, to.Date)}, sideOf(to), record.BasisLast, ""))
	}
	if j := s.yearBefore(i); j >= 0 {
		out = append(out, a.compare(s, &s.points[j], to, record.BasisYear, ""))
	}
	if j := a.baseline(s); j >= 0 && j < i {
		out = append(out, a.compare(s, &s.points[j], to, record.BasisBaseline, ""))
	}
	for _, e := range a.eventsBefore(s.plant, to.Date) {
		// A photo taken on the event's own day counts as before it.
		if j := s.lastUpTo(e.Date); j >= 0 {
			out = append(out, a.compare(s, &s.points[j], to, record.BasisEvent, e.Date+" "+e.Kind))
		} else {
			out = append(out, a.oneSided(s, side{}, sideOf(to), record.BasisEvent, e.Date+" "+e.Kind))
		}
	}
	return out
}

// eventsBefore are the latest events of each kind within a year before a day, by date.
func (a *analysis) eventsBefore(plant int, day string) []record.Event {
	list := a.events[plant]
	oldest := plusMonths(day, -12)
	seen := map[string]bool{}
	var out []record.Event
	for i := len(list) - 1; i >= 0; i-- {
		e := list[i]
		if e.Date >= day || e.Date < oldest || seen[e.Kind] {
			continue
		}
		seen[e.Kind] = true
		out = append(out, e)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Date < out[j].Date })
	return out
}

// lastUpTo is the index of the last session on or before a day, -1 for none.
func (s *series) lastUpTo(day string) int {
	return sort.Search(len(s.points), func(i int) bool { return s.points[i].Date > day }) - 1
}

// yearBefore is the session of the same month a year earlier that lies nearest to the same day.
func (s *series) yearBefore(i int) int {
	month, d, best := s.points[i].yearEarlier(), math.NaN(), -1
	for j := i - 1; j >= 0; j-- {
		if s.points[j].Date[:7] != month {
			continue
		}
		if best < 0 {
			d = dayNumber(plusMonths(s.points[i].Date, -12))
		}
		if best < 0 || math.Abs(s.points[j].day-d) < math.Abs(s.points[best].day-d) {
			best = j
		}
	}
	return best
}

// yearEarlier is the same month a year earlier, YYYY-MM.
func (p *point) yearEarlier() string { return plusMonths(p.Date[:7]+"-01", -12)[:7] }

// baseline is the index of the session that the grower compares with.
func (a *analysis) baseline(s *series) int {
	day := a.in.Settings.Baseline
	if own, ok := a.in.Settings.BaselineOf[s.plant]; ok {
		day = own
	}
	if day == "" || day == "first" {
		return 0
	}
	i := sort.Search(len(s.points), func(i int) bool { return s.points[i].Date >= day })
	if i == len(s.points) {
		return -1
	}
	return i
}

// uncertainty of a difference of two sessions: what is common to both is left out, a changed face of the pot is added.
// u is the standard uncertainty.
func (a *analysis) uncertainty(s *series, from, to *point) (u float64) {
	u = math.Hypot(from.UVarying, to.UVarying)
	if from.face != to.face && from.face != "" && to.face != "" {
		u = math.Hypot(u, a.in.Settings.FaceSampling*math.Max(from.Value, to.Value))
	}
	return u
}

// compare is the change between two sessions. The half-width is Student's t of the noise's degrees of freedom times
// the standard uncertainty: each side has several terms of like size, so their difference is near to normal.
func (a *analysis) compare(s *series, from, to *point, basis, event string) record.Change {
	u, k := a.uncertainty(s, from, to), s.k95
	c := record.Change{Plant: s.plant, Name: a.names[s.plant], View: s.view, Quantity: s.quantity, Part: s.part, Unit: s.unit, Basis: basis, Event: event,
		FromDate: from.Date, ToDate: to.Date, FromValue: from.Value, ToValue: to.Value,
		Change: s.kind.difference(from.Value, to.Value), U95: k * u}
	if s.kind.exact {
		c.U95, c.P, c.Q = 0, math.NaN(), math.NaN()
		c.Verdict = record.NoChange
		if c.Change > 0 {
			c.Verdict = record.Rose
		} else if c.Change < 0 {
			c.Verdict = record.Fell
		}
		return c
	}
	c.SmallestDetectable = s.smallest(from, to, k, u, c.Change)
	c.P = tTwoSided(c.Change/u, s.df)
	switch {
	case c.Change > c.U95:
		c.Verdict = record.Rose
	case c.Change < -c.U95:
		c.Verdict = record.Fell
	default:
		c.Verdict = record.NoChange
	}
	if from.areas != to.areas && s.view == record.Leaf && s.part == "" {
		// What was left out or kept by hand on one side only is no change of the plant. (Of roots the length is that outside
		// of an area, and its interval allows for what the area may hide.)
		c.Verdict, c.P = record.TooFew, math.NaN()
		c.Areas = "areas were drawn by hand on the photo of " + words.LongDay(from.Date) + " and not on that of " + words.LongDay(to.Date)
		if from.areas == "" {
			c.Areas = "areas were drawn by hand on the photo of " + words.LongDay(to.Date) + " and not on that of " + words.LongDay(from.Date)
		} else if to.areas != "" {
			c.Areas = "areas of other kinds were drawn by hand on the photos of " + words.LongDay(from.Date) + " and " + words.LongDay(to.Date)
		}
	}
	return c
}

// smallest is the change from the earlier value that would just be called a change, in the direction seen. Where noise
// grows with the value, so does the uncertainty of the later one: d^2 = k^2 (uf^2 + r^2 (from + d)^2) is solved for d.
func (s *series) smallest(from, to *point, k, u, change float64) float64 {
	r := 0.0
	if s.kind.relative && to.Value > 0 {
		r = to.UVarying / to.Value
	}
	rest := math.Sqrt(math.Max(0, u*u-r*r*to.Value*to.Value)) // of the earlier session and a changed face
	if r == 0 || k*r >= 1 {
		return k * u
	}
	sign := 1.0
	if change < 0 {
		sign = -1
	}
	a, b := 1-k*k*r*r, -2*sign*k*k*r*r*from.Value
	c := -k * k * (rest*rest + r*r*from.Value*from.Value)
	return (-b + math.Sqrt(b*b-4*a*c)) / (2 * a)
}

// side is one side of a comparison: its day, "" where there is none, and its session, nil where there is none.
type side struct {
	day     string
	session *point
}

func sideOf(p *point) side { return side{p.Date, p} }

// oneSided is a comparison that lacks a session on one side.
func (a *analysis) oneSided(s *series, from, to side, basis, event string) record.Change {
	nan := math.NaN()
	c := record.Change{Plant: s.plant, Name: a.names[s.plant], View: s.view, Quantity: s.quantity, Part: s.part, Unit: s.unit, Basis: basis, Event: event,
		FromDate: from.day, ToDate: to.day, FromValue: nan, ToValue: nan, Change: nan, U95: nan, SmallestDetectable: nan,
		Verdict: record.TooFew, P: nan, Q: nan}
	if from.session != nil {
		c.FromValue = from.session.Value
	}
	if to.session != nil {
		c.ToValue = to.session.Value
	}
	return c
}

// dayBefore is the last day before the given one with photos, none of which counted; "" where there was none.
func (a *analysis) dayBefore(s *series, day string) string {
	last := ""
	if s.part != "" {
		return "" // photos without a line are no sessions of the part
	}
	for _, d := range a.shots[s.shotKey].days {
		if d < day {
			last = d
		}
	}
	return last
}

// unseen appends a line for each day of the period on which the plant was photographed and nothing counted.
func (a *analysis) unseen(out []record.Change, s *series) []record.Change {
	sh := a.shots[s.shotKey]
	for _, day := range sh.days {
		i := s.lastUpTo(day)
		if !a.inPeriod(day) || i < 0 || s.points[i].Date == day {
			continue
		}
		out = append(out, a.oneSided(s, sideOf(&s.points[i]), side{day: day}, record.BasisLast, ""))
	}
	return out
}

// complete fills what a change that was computed elsewhere left open.
func (a *analysis) complete(c record.Change) record.Change {
	if c.Name == "" {
		c.Name = a.names[c.Plant]
	}
	if c.Basis == "" {
		c.Basis = record.BasisLast
	}
	if c.P == 0 || math.IsNaN(c.P) {
		c.P = math.NaN()
		if c.U95 > 0 {
			c.P = tTwoSided(1.96*c.Change/c.U95, math.Inf(1))
		}
	}
	if c.Verdict == "" {
		switch {
		case math.IsNaN(c.Change):
			c.Verdict = record.TooFew
		case c.Change > c.U95:
			c.Verdict = record.Rose
		case c.Change < -c.U95:
			c.Verdict = record.Fell
		default:
			c.Verdict = record.NoChange
		}
	}
	return c
}

// adjust sets q: Benjamini & Hochberg over the comparisons of one month and basis.
func adjust(list []record.Change) {
	type family struct{ month, basis string }
	by := map[family][]int{}
	for i := range list {
		if len(list[i].ToDate) >= 7 {
			f := family{list[i].ToDate[:7], list[i].Basis}
			by[f] = append(by[f], i)
		}
	}
	for _, at := range by {
		p := make([]float64, len(at))
		for k, i := range at {
			p[k] = list[i].P
		}
		for k, q := range BenjaminiHochberg(p) {
			list[at[k]].Q = q
		}
	}
}

// firstScreen lists what survives a false discovery rate over the period. The hypothesis of each plant and quantity is
// that nothing changed against any comparison: its p is the smallest of its comparisons' times their number
// (Bonferroni), over these p the rate is held (Benjamini & Hochberg 1995), and the comparison shown is the one with the
// latest news: the last session where that is sure enough alone, else the surest.
func firstScreen(list []record.Change, rate float64) []record.Change {
	table := kinds(DefaultSettings())
	latest := map[key]string{}
	for i := range list {
		k := key{shotKey{list[i].Plant, list[i].View}, list[i].Quantity, list[i].Part}
		if list[i].ToDate > latest[k] {
			latest[k] = list[i].ToDate
		}
	}
	at := map[key][]int{}
	var keys []key
	for i := range list {
		c := &list[i]
		k := key{shotKey{c.Plant, c.View}, c.Quantity, c.Part}
		if math.IsNaN(c.P) || c.ToDate != latest[k] || !onFirstScreen(c.Quantity, c.View, table) {
			continue
		}
		if repeats(list, at[k], c) {
			continue
		}
		if at[k] == nil {
			keys = append(keys, k)
		}
		at[k] = append(at[k], i)
	}
	p := make([]float64, len(keys))
	for j, k := range keys {
		least := 1.0
		for _, i := range at[k] {
			least = math.Min(least, list[i].P)
		}
		p[j] = math.Min(1, least*float64(len(at[k])))
	}
	q := BenjaminiHochberg(p)
	cut := 0.0 // the largest p that survives
	for j := range q {
		if q[j] <= rate {
			cut = math.Max(cut, p[j])
		}
	}
	var out []record.Change
	for j, k := range keys {
		if q[j] <= rate {
			out = append(out, list[shown(list, at[k], cut)])
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		return math.Abs(out[i].Change)/out[i].U95 > math.Abs(out[j].Change)/out[j].U95
	})
	return out
}

// repeats says that a comparison with the same earlier session is there already: with two sessions the last one and
// the baseline are the same.
func repeats(list []record.Change, have []int, c *record.Change) bool {
	for _, i := range have {
		if list[i].FromDate == c.FromDate {
			return true
		}
	}
	return false
}

// shown chooses the comparison to show of one plant and quantity.
func shown(list []record.Change, at []int, cut float64) int {
	best := at[0]
	for _, i := range at {
		c := &list[i]
		if c.Basis == record.BasisLast && c.P*float64(len(at)) <= cut && (c.Verdict == record.Rose || c.Verdict == record.Fell) {
			return i
		}
		if c.P < list[best].P {
			best = i
		}
	}
	return best
}
