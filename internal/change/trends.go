package change

import (
	"math"
	"slices"
	"sort"
	"strings"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// routine is how often in a year an event may come and still part a series into before and after; what is done more
// often (watering) parts nothing.
const routine = 6

// halfYear is how far before and after an event others of its kind are counted, days.
const halfYear = 183

// splitting are a plant's events that part its series into phases.
func (a *analysis) splitting(plant int) []record.Event { return a.splits[plant] }

// split finds them, for all plants.
func (a *analysis) split() {
	for plant := range a.events {
		a.splits[plant] = a.splitsOf(plant)
	}
}

func (a *analysis) splitsOf(plant int) (out []record.Event) {
	days := map[string][]float64{} // by kind, in order
	for _, e := range a.events[plant] {
		days[e.Kind] = append(days[e.Kind], dayNumber(e.Date))
	}
	for _, list := range days {
		sort.Float64s(list)
	}
	for _, e := range a.events[plant] {
		list, day := days[e.Kind], dayNumber(e.Date)
		from := sort.SearchFloat64s(list, day-halfYear)
		upto := sort.Search(len(list), func(i int) bool { return list[i] > day+halfYear })
		if upto-from <= routine {
			out = append(out, e)
		}
	}
	return out
}

// phase is a stretch of a series between events: sessions from..upto-1.
type phase struct {
	name       string
	from, upto int
}

// phases parts a series at the plant's events; routine ones do not part. Events with no session between them are one.
// A photo of an event's own day belongs before it.
func (a *analysis) phases(s *series) []phase {
	n := len(s.points)
	out := []phase{{"all", 0, n}}
	type cut struct {
		at    int
		label []string
	}
	var cuts []cut
	for _, e := range a.splitting(s.plant) {
		at := s.lastUpTo(e.Date) + 1
		label := e.Date + " " + e.Kind
		if k := len(cuts) - 1; k >= 0 && cuts[k].at == at {
			cuts[k].label = append(cuts[k].label, label)
		} else {
			cuts = append(cuts, cut{at, []string{label}})
		}
	}
	from, before := 0, ""
	for _, c := range cuts {
		label := strings.Join(c.label, ", ")
		if c.at > from {
			name := "before " + label
			if before != "" {
				name = "between " + before + " and " + label
			}
			out = append(out, phase{name, from, c.at})
		}
		from, before = c.at, label
	}
	if before != "" && from < n {
		out = append(out, phase{"after " + before, from, n})
	}
	return out
}

// trends gives a line for every phase with at least two sessions.
func (a *analysis) trends() []record.Trend {
	of := make([][]record.Trend, len(a.series))
	each(len(a.series), func(i int) {
		s := a.series[i].alike()
		for _, p := range a.phases(s) {
			if p.upto-p.from >= 2 {
				t := s.trend(s.points[p.from:p.upto], a.nulls)
				t.Phase = p.name
				of[i] = append(of[i], t)
			}
		}
	})
	out := slices.Concat(of...)
	p := make([]float64, len(out))
	for i := range out {
		p[i] = out[i].MKp
	}
	for i, q := range BenjaminiHochberg(p) {
		out[i].MKq = q
	}
	return out
}

// trend of some sessions of the series, per month.
func (s *series) trend(points []point, known *nulls) record.Trend {
	t, y := make([]float64, len(points)), make([]float64, len(points))
	for i := range points {
		t[i], y[i] = (points[i].day-points[0].day)/record.MonthDays, points[i].y
	}
	nan, slopes := math.NaN(), Slopes(t, y)
	out := record.Trend{Plant: s.plant, View: s.view, Quantity: s.quantity, Part: s.part, Unit: s.unit, Sessions: len(points),
		FromDate: points[0].Date, ToDate: points[len(points)-1].Date, SlopePerMonth: uncert.MedianSorted(slopes), MKq: nan,
		RelGrowthPerMonth: nan, GrowthLow: nan, GrowthHigh: nan, DoublingMonths: nan}
	out.SlopeLow, out.SlopeHigh, out.Level = nan, nan, nan
	if len(points) >= 5 {
		out.SlopeLow, out.SlopeHigh, out.Level = intervalOf(slopes, known.of(len(points)), uncert.Coverage)
	}
	out.MKp = mannKendall(y, known).P
	if s.kind.relative {
		out.RelGrowthPerMonth, out.GrowthLow, out.GrowthHigh = s.growth(points, t, y, known)
		if out.GrowthLow > 0 { // it means nothing where the plant may not be growing at all
			out.DoublingMonths = math.Ln2 / out.RelGrowthPerMonth
		}
	}
	return out
}

// minResidualDF: with fewer the scatter about the line says too little of the noise, and the noise of the sessions is
// taken instead.
const minResidualDF = 3

// growth is the mean relative growth rate over the sessions, the slope of ln y on t (Hunt 1982), with its 95 %
// interval: from the scatter about the line with five sessions or more, else from the sessions' noise.
func (s *series) growth(points []point, t, y []float64, known *nulls) (rate, low, high float64) {
	l := GrowthLine(t, y)
	half := known.tQuantile(l.DF) * l.SlopeSE
	if l.DF < minResidualDF {
		half = s.k95 * s.lineSE(points, t)
	}
	return l.Slope, l.Slope - half, l.Slope + half
}

// lineSE is the standard uncertainty of the slope of ln y on t that the sessions' noise gives.
func (s *series) lineSE(points []point, t []float64) float64 {
	mean, stt, v := 0.0, 0.0, 0.0
	for _, x := range t {
		mean += x / float64(len(t))
	}
	for _, x := range t {
		stt += (x - mean) * (x - mean)
	}
	for i, x := range t {
		u := points[i].UVarying / points[i].Value
		v += (x - mean) * (x - mean) * u * u
	}
	return math.Sqrt(v) / stt
}

// season says what can be said of it.
func (a *analysis) season() string {
	first, last := "", ""
	for _, s := range a.series {
		if d := s.points[0].Date; first == "" || d < first {
			first = d
		}
		last = max(last, s.points[len(s.points)-1].Date)
	}
	switch {
	case first == "":
		return ""
	case plusMonths(first, 24) > last:
		return "Season is not separated: there are photos from less than two years. What rises or falls may do so every year at this time."
	default:
		return "There are photos from two years or more: the comparison with the same month a year earlier takes the season out, as far as years are alike."
	}
}
