package report

import (
	"fmt"
	"math"
	"sort"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// effectLine is what moved around one event for one quantity.
type effectLine struct {
	Plant                             int
	Name, Event, Date, Title          string
	Before, After, Level, Against, Of string
	P, Sentence, Other                string
}

func (x *index) effectLine(e record.EventEffect) effectLine {
	q := quantity.Of(e.Quantity, e.Unit)
	slope := func(v float64) string {
		if math.IsNaN(v) {
			return "too few sessions"
		}
		return q.Delta(v, 0) + " a month"
	}
	l := effectLine{Plant: e.Plant, Name: x.title(e.Plant), Event: kindNoun(e.Event), Date: shortDay(e.Date), Title: q.Title,
		Before: slope(e.SlopeBefore), After: slope(e.SlopeAfter), Level: "–", Against: "no comparison plant", P: "–",
		Sentence: e.Sentence, Other: e.OtherEvents}
	if !math.IsNaN(e.LevelChange) {
		l.Level = q.Delta(e.LevelChange, e.LevelU95)
	}
	if len(e.ComparisonPlants) > 0 && !math.IsNaN(e.Difference) {
		l.Against = q.Delta(e.Difference, 0)
		if !math.IsNaN(e.Low) && !math.IsNaN(e.High) && e.High > e.Low {
			l.Against = q.Delta(e.Difference, (e.High-e.Low)/2)
		}
		var names []string
		for _, n := range e.ComparisonPlants {
			names = append(names, fmt.Sprint(n))
		}
		l.Of = "against " + plural(len(names), "plant ", "plants ") + list(names)
	}
	if !math.IsNaN(e.P) && e.P > 0 {
		l.P = probability(e.P)
		if e.PSmallest > 0 {
			l.P += " (smallest possible " + probability(e.PSmallest) + ")"
		}
	}
	return l
}

// eventRow is an event of the period.
type eventRow struct {
	Date, Kind string
	Plants     []plantRef
	Note       string
}

// plantRef is a plant's number and whether it has a section to go to.
type plantRef struct {
	Number int
	Listed bool
}

// eventsOf lists the period's events; the same thing done to several plants on a day is one row.
func (x *index) eventsOf() []eventRow {
	type key struct{ date, kind, note string }
	at := map[key]int{}
	var out []eventRow
	events := append([]record.Event(nil), x.d.Events...)
	sort.SliceStable(events, func(i, j int) bool { return events[i].Date > events[j].Date })
	for _, e := range events {
		if x.d.To != "" && e.Date > x.d.To {
			continue
		}
		k := key{e.Date, e.Kind, e.Note}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, eventRow{Date: shortDay(e.Date), Kind: KindWords(e.Kind), Note: e.Note})
		}
		_, listed := x.plant[e.Plant]
		out[i].Plants = append(out[i].Plants, plantRef{e.Plant, listed})
	}
	return out
}

// maxEffects is how many effects the front of the report tells; the plants' sections have them all.
const maxEffects = 16

// effectLines lists the effects whose interval leaves zero out, the surest first.
func (x *index) effectLines() []effectLine {
	var sure []record.EventEffect
	for _, e := range x.d.Effects {
		if e.Low > 0 || e.High < 0 {
			sure = append(sure, e)
		}
	}
	ratio := func(e record.EventEffect) float64 { return math.Abs(e.Difference) / (e.High - e.Low) }
	sort.SliceStable(sure, func(i, j int) bool {
		a, b := sure[i], sure[j]
		if qa, qb := orOne(a.Q), orOne(b.Q); qa != qb {
			return qa < qb
		}
		return ratio(a) > ratio(b)
	})
	var out []effectLine
	for _, e := range sure[:min(len(sure), maxEffects)] {
		out = append(out, x.effectLine(e))
	}
	return out
}

// orOne takes a probability that could not be computed for one that says nothing.
func orOne(p float64) float64 {
	if math.IsNaN(p) {
		return 1
	}
	return p
}

// trendRows lists the trends of a view's headline quantities.
func (x *index) trendRows(k viewKey) []trendRow {
	var out []trendRow
	for _, name := range x.views[k] {
		if !headline[name] {
			continue
		}
		for _, t := range x.trends[seriesKey{k.plant, k.view, name}] {
			out = append(out, trendRowOf(t))
		}
	}
	return out
}

func trendRowOf(t record.Trend) trendRow {
	q := quantity.Of(t.Quantity, t.Unit)
	r := trendRow{Title: q.Title, Phase: t.Phase, Growth: "–", MK: probability(t.MKp), Note: count(t.Sessions, "session", "sessions")}
	switch {
	case math.IsNaN(t.SlopePerMonth):
		r.Slope = "too few sessions"
	case math.IsNaN(t.SlopeLow) || math.IsNaN(t.SlopeHigh):
		r.Slope = q.Delta(t.SlopePerMonth, 0) + " a month, interval needs 5 sessions"
	default:
		r.Slope = q.Delta(t.SlopePerMonth, (t.SlopeHigh-t.SlopeLow)/2) + " a month"
	}
	if t.Level > 0 && t.Level < 0.945 {
		r.Note += fmt.Sprintf(", level reached %.0f %%", 100*t.Level)
	}
	if q.Relative && !math.IsNaN(t.RelGrowthPerMonth) {
		r.Growth = quantity.Signed(100*t.RelGrowthPerMonth, 1) + quantity.Thin + "% a month"
	}
	return r
}
