package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// effectLine is what moved around one event for one quantity.
type effectLine struct {
	Plant                             int
	Name, Event, Date, Title          string
	Before, After, Level, Against, Of string
	P, Sentence, Sure, Other, Href    string
}

func (x *index) effectLine(e record.EventEffect) effectLine {
	q := quantity.OfPart(e.Quantity, e.Part, e.Unit)
	fine := x.fineness(seriesKey{e.Plant, e.View, e.Quantity})
	if ss := x.parts[partKey{seriesKey{e.Plant, e.View, e.Quantity}, e.Part}]; e.Part != "" && len(ss) > 0 {
		fine = ss[len(ss)-1].U95
	}
	slope := func(v float64) string {
		if math.IsNaN(v) {
			return "too few sessions"
		}
		return q.Rate(v, fine) + " a month"
	}
	l := effectLine{Plant: e.Plant, Name: x.title(e.Plant), Event: words.EventNoun(e.Event), Date: words.UnbrokenDay(e.Date), Title: q.Title,
		Before: slope(e.SlopeBefore), After: slope(e.SlopeAfter), Level: "–", Against: "no comparison plant", P: "–",
		Sentence: e.Sentence, Sure: e.Sure, Other: e.OtherEvents, Href: plantFile(e.Plant)}
	if !math.IsNaN(e.LevelChange) {
		l.Level = q.Delta(e.LevelChange, e.LevelU95)
	}
	if len(e.ComparisonPlants) > 0 && !math.IsNaN(e.Difference) {
		l.Against = q.Rate(e.Difference, fine)
		if !math.IsNaN(e.Low) && !math.IsNaN(e.High) && e.High > e.Low {
			l.Against = q.Delta(e.Difference, (e.High-e.Low)/2)
		}
		var names []string
		for _, n := range e.ComparisonPlants {
			names = append(names, fmt.Sprint(n))
		}
		l.Of = "against " + words.Noun(len(names), "plant ", "plants ") + words.List(names)
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
			out = append(out, eventRow{Date: words.UnbrokenDay(e.Date), Kind: words.EventDone(e.Kind), Note: e.Note})
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

// effectsOf lists what moved around a plant's events, in the order of the tables; what the first screen never tells, such
// as lightness, stays in the exports.
func (x *index) effectsOf(plant int) (out []effectLine) {
	all := slices.Clone(x.effects[plant])
	sort.SliceStable(all, func(i, j int) bool { return quantity.Order(all[i].Quantity) < quantity.Order(all[j].Quantity) })
	for _, e := range all {
		if headline[e.Quantity] || e.Part != "" && e.Quantity != record.CountOf {
			out = append(out, x.effectLine(e))
		}
	}
	return out
}

// fineness is the half-width of a series' latest interval, the resolution of what is said of it; 0 where there is none.
func (x *index) fineness(k seriesKey) float64 {
	s, _ := x.last(k)
	return s.U95
}

// fewestForTrend is the number of sessions below which a slope is only the difference of two values.
const fewestForTrend = 3

// trendRows lists the trends of a view's headline quantities; what is too small to be told from nothing and has no
// interval either is left out.
func (x *index) trendRows(k viewKey) []trendRow {
	var out []trendRow
	for _, name := range x.views[k] {
		if !headline[name] {
			continue
		}
		for _, t := range x.trends[seriesKey{k.plant, k.view, name}] {
			if row, ok := trendRowOf(t, x.fineness(seriesKey{k.plant, k.view, name})); ok {
				out = append(out, row)
			}
		}
	}
	return out
}

// wantedLevel is the level, rounded to whole per cents 95, below which an interval of few sessions says what it reaches.
const wantedLevel = 0.945

func trendRowOf(t record.Trend, fine float64) (trendRow, bool) {
	q := quantity.Of(t.Quantity, t.Unit)
	if t.Sessions < fewestForTrend || math.IsNaN(t.SlopePerMonth) {
		return trendRow{}, false
	}
	r := trendRow{Title: q.Title, Phase: phaseWords(t.Phase), Growth: "–", MK: probability(t.MKp), Note: words.Count(t.Sessions, "session", "sessions")}
	if math.IsNaN(t.SlopeLow) || math.IsNaN(t.SlopeHigh) {
		if math.Abs(t.SlopePerMonth) < fine/2 {
			return trendRow{}, false
		}
		r.Slope, r.Aside = q.Rate(t.SlopePerMonth, fine)+" a month", "an interval needs 5 sessions"
	} else {
		if max(math.Abs(t.SlopeLow), math.Abs(t.SlopeHigh)) < fine/10 {
			return trendRow{}, false
		}
		r.Slope = q.Delta(t.SlopePerMonth, (t.SlopeHigh-t.SlopeLow)/2) + " a month"
	}
	if t.Level > 0 && t.Level < wantedLevel {
		r.Note += fmt.Sprintf(", level reached %.0f %%", 100*t.Level)
	}
	if q.Relative && !math.IsNaN(t.RelGrowthPerMonth) {
		r.Growth = quantity.Signed(100*t.RelGrowthPerMonth, 1) + quantity.Thin + "% a month"
	}
	return r, true
}

// phaseWords says which part of a series a trend is of: "before 2026-04-18 repot" becomes "before the repot of 18 Apr 2026".
func phaseWords(phase string) string {
	if phase == "all" {
		return "all sessions"
	}
	out := []string{}
	for _, part := range strings.Split(phase, ", ") {
		side, rest, _ := strings.Cut(part, " ")
		date, kind, ok := strings.Cut(rest, " ")
		if _, isDay := words.Day(date); ok && isDay {
			part = side + " " + words.EventNoun(kind) + " of " + words.UnbrokenDay(date)
		}
		out = append(out, part)
	}
	return strings.Join(out, ", ")
}
