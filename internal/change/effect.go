package change

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"phototrack/internal/record"
)

// minSlopeSessions before or after an event are needed for a slope.
const minSlopeSessions = 3

// effects looks at what moved around every event whose window touches the period: slope before and after, the jump
// between the two lines, and the difference from comparison plants over the same days (difference in differences),
// which takes out what moved in all of them: season, a new card, a change of light over the bench.
func (a *analysis) effects() []record.EventEffect {
	var out []record.EventEffect
	for _, s := range a.series {
		if !s.kind.first {
			continue
		}
		whole := s
		s = s.alike()
		for _, e := range a.splitting(s.plant) {
			end := plusMonths(e.Date, a.in.Settings.EventMonths)
			if (a.in.To != "" && e.Date > a.in.To) || (a.in.From != "" && end < a.in.From) {
				continue
			}
			if f, ok := a.effect(s, e, end); ok {
				for _, d := range whole.unlike(plusMonths(e.Date, -12), end) {
					f.OtherEvents = joined(f.OtherEvents, d+" other areas drawn by hand: left out")
				}
				out = append(out, f)
			}
		}
	}
	p := make([]float64, len(out))
	for i := range out {
		p[i] = out[i].P
	}
	for i, q := range BenjaminiHochberg(p) {
		out[i].Q = q
		out[i].Sentence, out[i].Sure = a.effectSentence(&out[i])
	}
	return out
}

// effect of one event on one series; ok is false where no session lies after it within the window.
func (a *analysis) effect(s *series, e record.Event, end string) (record.EventEffect, bool) {
	nan := math.NaN()
	f := record.EventEffect{Plant: s.plant, View: s.view, Event: e.Kind, Date: e.Date, Quantity: s.quantity, Part: s.part, Unit: s.unit,
		SlopeBefore: nan, SlopeAfter: nan, LevelChange: nan, LevelU95: nan, Difference: nan, Low: nan, High: nan, P: nan, PSmallest: nan, Q: nan,
		PTogether: nan, PTogetherMin: nan}
	before, last := s.lastUpTo(e.Date), s.lastUpTo(end)
	if last <= before {
		return f, false
	}
	w := window{series: s, event: e, end: end, before: before, last: last}
	pre, post := s.points[a.phaseStart(s, e):before+1], s.points[before+1:last+1]
	if cut := a.nextCut(s, e, before, last); cut <= last {
		post = s.points[before+1 : cut]
	}
	a.segmented(s, e, pre, post, &f)
	if before >= 0 {
		a.compareWithOthers(w, &f)
	}
	f.OtherEvents = a.otherEvents(w, f.ComparisonPlants)
	return f, true
}

// window is the stretch of a series in which an event's effect is looked for.
type window struct {
	*series
	event        record.Event
	end          string // the last day
	before, last int    // the sessions last before the event, -1 for none, and last in the window
}

// phaseStart is the first session after the splitting event before e.
func (a *analysis) phaseStart(s *series, e record.Event) int {
	from := 0
	for _, o := range a.splitting(s.plant) {
		if o.Date < e.Date {
			from = s.lastUpTo(o.Date) + 1
		}
	}
	return from
}

// nextCut is the first session after a later splitting event, past last where there is none in the window.
func (a *analysis) nextCut(s *series, e record.Event, before, last int) int {
	for _, o := range a.splitting(s.plant) {
		if o.Date > e.Date {
			if cut := s.lastUpTo(o.Date) + 1; cut > before+1 {
				return cut
			}
		}
	}
	return last + 1
}

// segmented fits a line on each side of the event, Theil-Sen for the slopes that are shown, least squares for the jump
// at the event's day (segmented regression of an interrupted series: Wagner et al. 2002). The jump's interval is that
// of the sessions' noise.
func (a *analysis) segmented(s *series, e record.Event, pre, post []point, f *record.EventEffect) {
	day := dayNumber(e.Date)
	side := func(points []point) (slope, level, variance float64) {
		t, y := make([]float64, len(points)), make([]float64, len(points))
		for i := range points {
			t[i], y[i] = (points[i].day-day)/record.MonthDays, points[i].y
		}
		if len(points) < minSlopeSessions {
			return math.NaN(), math.NaN(), math.NaN()
		}
		return TheilSen(t, y), OLS(t, y).Intercept, interceptVariance(points, t)
	}
	var levelBefore, levelAfter, v1, v2 float64
	f.SlopeBefore, levelBefore, v1 = side(pre)
	f.SlopeAfter, levelAfter, v2 = side(post)
	f.LevelChange = levelAfter - levelBefore
	f.LevelU95 = s.k95 * math.Sqrt(v1+v2)
}

// interceptVariance is the variance of a fitted line at t = 0 that the sessions' noise gives.
func interceptVariance(points []point, t []float64) float64 {
	n, mean, stt, v := float64(len(t)), 0.0, 0.0, 0.0
	for _, x := range t {
		mean += x / n
	}
	for _, x := range t {
		stt += (x - mean) * (x - mean)
	}
	for i, x := range t {
		w := 1/n - mean*(x-mean)/stt
		v += w * w * points[i].UVarying * points[i].UVarying
	}
	return v
}

// step is the change of a series between two days, on the log scale where growth is relative, and its variance.
type step struct {
	plant    int
	d, v     float64
	from, to float64 // values at the ends
}

// maxStretchDays is how far beyond a plant's own sessions a comparison day may lie: a round of photos takes some days.
const maxStretchDays = 10

// maxBridgeDays: between sessions farther apart a comparison plant's value is not guessed.
const maxBridgeDays = 125

// at gives the series' value on a day, on the scale of effects, with its variance: a session of that day, else
// between the neighbours in proportion to time.
func (s *series) valueAt(day float64) (y, v float64, ok bool) {
	scaled := func(p *point) (float64, float64) {
		if s.kind.relative {
			u := p.UVarying / p.y
			return math.Log(p.y), u * u
		}
		return p.y, p.UVarying * p.UVarying
	}
	i := sort.Search(len(s.points), func(i int) bool { return s.points[i].day >= day })
	switch {
	case i < len(s.points) && s.points[i].day == day:
		y, v = scaled(&s.points[i])
	case i == 0 && s.points[0].day-day <= maxStretchDays:
		y, v = scaled(&s.points[0])
	case i == len(s.points) && day-s.points[i-1].day <= maxStretchDays:
		y, v = scaled(&s.points[i-1])
	case i == 0 || i == len(s.points):
		return 0, 0, false
	default:
		p, q := &s.points[i-1], &s.points[i]
		if q.day-p.day > maxBridgeDays {
			return 0, 0, false
		}
		w := (day - p.day) / (q.day - p.day)
		y1, v1 := scaled(p)
		y2, v2 := scaled(q)
		y, v = (1-w)*y1+w*y2, (1-w)*(1-w)*v1+w*w*v2
	}
	return y, v, !math.IsNaN(y) && !math.IsInf(y, 0)
}

func (s *series) stepBetween(from, to float64) (step, bool) {
	y1, v1, ok1 := s.valueAt(from)
	y2, v2, ok2 := s.valueAt(to)
	return step{plant: s.plant, d: y2 - y1, v: v1 + v2, from: y1, to: y2}, ok1 && ok2
}

// comparisons are the steps of plants of the same group without an event of this kind from the quiet months before to
// the end of the window.
func (a *analysis) comparisons(s *series, e record.Event, end string, from, to float64) []step {
	group := a.groups[s.plant]
	if group == "" {
		return nil
	}
	var out []step
	quiet := plusMonths(e.Date, -a.in.Settings.QuietMonths)
	for _, p := range a.in.Plants {
		o := a.counterpart(s, p.Number)
		if p.Number == s.plant || p.Group != group || o == nil || a.had(p.Number, e.Kind, quiet, end) {
			continue
		}
		if st, ok := o.alike().stepBetween(from, to); ok {
			out = append(out, st)
		}
	}
	return out
}

// had says whether a plant had an event of a kind between two days, both included.
func (a *analysis) had(plant int, kind, from, to string) bool {
	for _, e := range a.events[plant] {
		if e.Kind == kind && e.Date >= from && e.Date <= to {
			return true
		}
	}
	return false
}

// compareWithOthers fills the difference in differences from the last session before the event to the last one of the
// window. Where growth is relative it is worked out on the log scale and given as what the value is above or below what
// it would be, had the plant grown like the comparison plants. The interval rests on how the comparison plants differ
// among themselves (three or more), else on the noise of the photos alone.
func (a *analysis) compareWithOthers(w window, f *record.EventEffect) {
	s, e := w.series, w.event
	from, to := &s.points[w.before], &s.points[w.last]
	own, ok := s.stepBetween(from.day, to.day)
	others := a.comparisons(s, e, w.end, from.day, to.day)
	m := float64(len(others))
	if !ok || m == 0 {
		return
	}
	d := make([]float64, len(others))
	mean, noise := 0.0, own.v
	for i, o := range others {
		d[i] = o.d
		mean += o.d / m
		noise += o.v / (m * m)
		f.ComparisonPlants = append(f.ComparisonPlants, o.plant)
	}
	delta, half := own.d-mean, s.k95*math.Sqrt(noise)
	if len(others) >= 3 {
		ss := 0.0
		for _, x := range d {
			ss += (x - mean) * (x - mean)
		}
		half = tQuantile(m-1) * math.Sqrt(ss/(m-1)*(1+1/m))
	}
	back := func(x float64) float64 { return x }
	if s.kind.relative {
		expected := from.Value * math.Exp(mean)
		back = func(x float64) float64 { return expected * math.Expm1(x) }
	}
	f.Difference, f.Low, f.High = back(delta), back(delta-half), back(delta+half)
	f.P, f.PSmallest = PermutationP([]float64{own.d}, d)
	treated := a.treatedTogether(s, e, from.day, to.day)
	f.Together = len(treated)
	if len(treated) > 1 && len(d) > 1 {
		f.PTogether, f.PTogetherMin = PermutationP(treated, d)
	}
}

// togetherDays apart events of one kind in one group are one round of work.
const togetherDays = 7

// treatedTogether are the steps of the plants of the group that had the same kind of event in the same round, the plant
// itself included: several plants against the comparison plants can reach a smaller p than one.
func (a *analysis) treatedTogether(s *series, e record.Event, from, to float64) []float64 {
	var out []float64
	day := dayNumber(e.Date)
	for _, p := range a.in.Plants {
		o := a.counterpart(s, p.Number)
		if p.Number == s.plant {
			o = s
		}
		if o == nil || (p.Number != s.plant && p.Group != a.groups[s.plant]) {
			continue
		}
		for _, x := range a.events[p.Number] {
			if x.Kind == e.Kind && math.Abs(dayNumber(x.Date)-day) <= togetherDays {
				if st, ok := o.alike().stepBetween(from, to); ok {
					out = append(out, st.d)
				}
				break
			}
		}
	}
	return out
}

func joined(list, one string) string {
	if list == "" {
		return one
	}
	return list + "; " + one
}

// otherEvents lists what else happened in the window: to the plant, to its comparison plants, to camera and card.
func (a *analysis) otherEvents(w window, comparisons []int) string {
	from := w.event.Date
	if w.before >= 0 {
		from = w.points[w.before].Date
	}
	to := w.points[w.last].Date
	var out []string
	within := func(o record.Event) bool { return o.Date >= from && o.Date <= to }
	for _, o := range a.events[w.plant] {
		if within(o) && o != w.event {
			out = append(out, o.Date+" "+o.Kind)
		}
	}
	for _, c := range comparisons {
		for _, o := range a.events[c] {
			if within(o) {
				out = append(out, fmt.Sprintf("plant %d: %s %s", c, o.Date, o.Kind))
			}
		}
	}
	if w.before >= 0 {
		out = append(out, w.newCameras(w.before, w.last)...)
	}
	for _, d := range a.in.NewCards {
		if d > from && d <= to {
			out = append(out, d+" a new card")
		}
	}
	return strings.Join(out, "; ")
}

// newCameras lists the sessions from one to another that were taken with another camera than the one before.
func (s *series) newCameras(from, to int) (out []string) {
	for i := from + 1; i <= to; i++ {
		if p, q := s.points[i-1].camera, s.points[i].camera; p != q && p != "" && q != "" {
			out = append(out, s.points[i].Date+" another camera")
		}
	}
	return out
}
