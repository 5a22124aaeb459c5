package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"phototrack/internal/chart"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
	"phototrack/internal/words"
)

// charted is one chart of a view: one quantity, or the discoloured shares together.
type charted struct {
	title   string
	names   []record.QuantityName
	floor   bool    // nothing is below zero
	minSpan float64 // least span of the axis in the shown unit
	isMain  bool
}

// chartPlan is what is charted of a view, what tells most first. The rest is drawn only in small collections.
var chartPlan = map[record.View][]charted{
	record.Leaf: {
		{"Leaf area", []record.QuantityName{record.LeafArea}, false, 0, true},
		{"Yellow, purple and brown shares", []record.QuantityName{record.YellowShare, record.PurpleShare, record.BrownShare}, true, 6, true},
		{"Leaf hue", []record.QuantityName{record.LeafHue}, false, 12, true},
		{"Green share", []record.QuantityName{record.GreenShare}, false, 6, false},
		{"Discoloured, outer third", []record.QuantityName{record.OuterDiscolouredShare}, true, 6, false},
		{"Discoloured, inner third", []record.QuantityName{record.InnerDiscolouredShare}, true, 6, false},
	},
	record.Root: {
		{"Visible root length", []record.QuantityName{record.RootLength}, true, 40, true},
		{"Longest root", []record.QuantityName{record.RootLongest}, true, 20, true},
		{"Root tips", []record.QuantityName{record.RootTips}, true, 4, true},
		{"Mean root diameter", []record.QuantityName{record.RootDiameter}, true, 4, false},
		{"Wall covered by root", []record.QuantityName{record.WallCoverShare}, true, 6, false},
		{"Wall seen", []record.QuantityName{record.WallSeenShare}, true, 20, false},
	},
}

// kinds pairs a quantity with the ink and shape of its points; all others are drawn in the plain ink.
var kinds = map[record.QuantityName]string{record.GreenShare: "green", record.YellowShare: "yellow", record.PurpleShare: "purple", record.BrownShare: "brown"}

// Chart is a chart with its surroundings, ready for a page.
type Chart struct {
	ID, Title, Unit string
	names           []record.QuantityName // quantities that it shows
	part            string                // the part that it is of, "" for the whole plant
	SVG             template.HTML
	Latest          string // the readout before anything is pointed at
	Key             []ChartKey
	Note            string
}

// ChartKey explains one kind of line or point: the class that colours it, its sign, and what it is.
type ChartKey struct{ Class, Mark, Text string }

// mark is an event of a plant with the letter under which charts show it.
type mark struct {
	Letter string
	Event  record.Event
	At     time.Time
}

// marksOf letters a plant's events by date: A, B, ... AA.
func (x *index) marksOf(plant int) []mark {
	var out []mark
	for _, e := range x.events[plant] {
		if t, ok := words.Day(e.Date); ok {
			out = append(out, mark{Letter(len(out)), e, t})
		}
	}
	return out
}

// letters from A to Z.
const letters = 26

// Letter is the sign of a plant's i-th event, by date from 0, on charts and in lists: A, B, ... Z, AA.
func Letter(i int) string {
	if i < letters {
		return string(rune('A' + i))
	}
	return Letter(i/letters-1) + string(rune('A'+i%letters))
}

// charts draws the charts of a view: those that tell most, and where it is asked for the rest.
func (x *index) charts(k viewKey, marks []mark, all bool) (first, more []*Chart, err error) {
	for _, c := range chartPlan[k.view] {
		if !c.isMain && !all {
			continue
		}
		box, err := x.chartBox(k, c, marks)
		switch {
		case err != nil:
			return nil, nil, err
		case box == nil:
		case c.isMain:
			first = append(first, box)
		default:
			more = append(more, box)
		}
	}
	return first, more, nil
}

// Charts draws the charts of one view of a plant as a report has them, with replicates, trends and the comparison plants
// of its group: those that tell most first, and the rest. Of d the plants, events, photos, sessions and trends are looked
// at, and of them only those of the plant and its group.
func Charts(d *Data, plant int, view record.View) (first, more []*Chart, err error) {
	x := newIndex(d)
	return x.charts(viewKey{plant, view}, x.marksOf(plant), true)
}

// chartBox draws one chart of a plant; nil where there is nothing to draw.
func (x *index) chartBox(k viewKey, c charted, marks []mark) (*Chart, error) {
	spec := chart.Spec{ID: fmt.Sprintf("c%d%.1s-%s", k.plant, k.view, strings.ReplaceAll(string(c.names[0]), "_", "")), Floor: c.floor, MinSpan: c.minSpan, Steps: c.names[0] == record.CountOf}
	box := &Chart{ID: spec.ID, Title: c.title, names: c.names}
	q := quantity.Of(c.names[0], "")
	box.Unit = q.Shown
	if q.Shown == "%" && !q.Ratio {
		spec.Ceiling = 100
	}
	for _, name := range c.names {
		s := x.points(seriesKey{k.plant, k.view, name}, len(c.names) > 1)
		if len(s.Points) == 0 {
			continue
		}
		spec.Series = append(spec.Series, s)
		if len(c.names) > 1 {
			box.Key = append(box.Key, ChartKey{"k-" + s.Kind, shapeMark(s.Kind), strings.TrimSuffix(quantity.Of(name, "").Title, " share")})
		}
	}
	if len(spec.Series) == 0 {
		return nil, nil
	}
	for _, m := range marks {
		spec.Marks = append(spec.Marks, chart.Mark{At: m.At, Letter: m.Letter,
			Words: fmt.Sprintf("%s: %s, %s. %s", m.Letter, words.EventDone(m.Event.Kind), words.LongDay(m.Event.Date), m.Event.Note)})
	}
	if len(c.names) == 1 {
		x.addBackground(&spec, box, seriesKey{k.plant, k.view, c.names[0]}, q)
	}
	box.Latest = x.latest(k, c.names)
	if spec.MinSpan == 0 { // sizes: at least a fifth of the value, so that a steady plant looks steady
		spec.MinSpan = 0.2 * spec.Series[0].Points[0].Value
	}
	spec.Title = fmt.Sprintf("%s of plant %d, %s", c.title, k.plant, x.title(k.plant))
	spec.Desc = describe(spec, box)
	svg, err := chart.SVG(spec)
	box.SVG = template.HTML(svg)
	return box, err
}

// latest is the newest session's values in one line.
func (x *index) latest(k viewKey, names []record.QuantityName) string {
	date, out := "", []string(nil)
	for _, name := range names {
		s, ok := x.last(seriesKey{k.plant, k.view, name})
		if !ok {
			continue
		}
		q := quantity.Of(name, s.Unit)
		text := q.Value(s.Value, s.U95)
		if len(names) > 1 {
			text = strings.TrimSuffix(q.Title, " share") + " " + text
		}
		date, out = max(date, s.Date), append(out, text)
	}
	return words.LongDay(date) + ": " + strings.Join(out, ", ")
}

func shapeMark(kind string) string {
	return map[string]string{"yellow": "▲", "purple": "■", "brown": "◆"}[kind]
}

// points turns a series into a chart's points with their words.
func (x *index) points(k seriesKey, named bool) chart.Series {
	return pointsOf(k, x.series[k], named)
}

func pointsOf(k seriesKey, sessions []record.Session, named bool) chart.Series {
	kind, ok := kinds[k.quantity]
	if !ok {
		kind = "value"
	}
	out := chart.Series{Kind: kind}
	for _, s := range sessions {
		t, ok := words.Day(s.Date)
		if !ok {
			continue
		}
		q := quantity.Of(s.Quantity, s.Unit)
		words := words.LongDay(s.Date) + ": "
		if named {
			words += strings.TrimSuffix(q.Title, " share") + " "
		}
		words += q.Value(s.Value, s.U95)
		if s.Photos > 0 { // what was counted rests on none
			words += ", " + photosWords(s.Names, s.Photos)
		}
		out.Points = append(out.Points, chart.Point{At: t, Value: s.Value * q.Scale, U95: s.U95 * q.Scale, Words: words})
	}
	return out
}

func photosWords(names []string, n int) string {
	switch {
	case len(names) == 0:
		return words.Count(n, "photo", "photos")
	case len(names) > 3:
		return fmt.Sprintf("%d photos (%s …)", len(names), names[0])
	}
	return strings.Join(names, ", ")
}

// addBackground adds what belongs behind a single quantity: replicates, comparison plants and trends.
func (x *index) addBackground(spec *chart.Spec, box *Chart, k seriesKey, q quantity.Info) {
	if reps := x.replicates(k, q); len(reps) > 0 {
		spec.Replicates = reps
		box.Key = append(box.Key, ChartKey{"replicate", "○", "single photos"})
	}
	others, names := x.comparison(k, q, spec.Series[0].Points)
	if len(others) > 0 {
		spec.Comparison = others
		text := "comparison " + names
		if q.Relative {
			text += ", scaled to the same start"
		}
		box.Key = append(box.Key, ChartKey{"other", "—", text})
	}
	if k.quantity != record.CountOf {
		spec.Trends = x.trendLines(k, q)
	}
	if len(spec.Trends) > 0 {
		box.Key = append(box.Key, ChartKey{"trend", "- -", "trend"})
	}
}

// replicates are the single photos of sessions that have more than one.
func (x *index) replicates(k seriesKey, q quantity.Info) []chart.Point {
	many := map[string]bool{}
	for _, s := range x.series[k] {
		if s.Photos > 1 {
			many[s.Date] = true
		}
	}
	if len(many) == 0 {
		return nil
	}
	var out []chart.Point
	for _, p := range x.counted(viewKey{k.plant, k.view}) {
		if v, ok := p.Find(k.quantity); ok && many[p.Taken.Day()] {
			if t, ok := words.Day(p.Taken.Day()); ok {
				out = append(out, chart.Point{At: t, Value: v.Value * q.Scale})
			}
		}
	}
	return out
}

// maxComparison bounds the lines behind a chart: more than this is a smear.
const maxComparison = 6

// comparison gives the series of the plant's group. Sizes are scaled so that they start with this plant's first value,
// since siblings differ in size and what is compared is how they go on.
func (x *index) comparison(k seriesKey, q quantity.Info, own []chart.Point) (lines [][]chart.Point, whose string) {
	var names []string
	for _, n := range x.groupOf[x.plant[k.plant].Group] {
		other := x.series[seriesKey{n, k.view, k.quantity}]
		if n == k.plant || len(other) < 2 || len(lines) == maxComparison {
			continue
		}
		var pts []chart.Point
		for _, s := range other {
			if t, ok := words.Day(s.Date); ok {
				pts = append(pts, chart.Point{At: t, Value: s.Value * q.Scale})
			}
		}
		if q.Relative {
			f, ok := startRatio(own, pts)
			if !ok {
				continue
			}
			for i := range pts {
				pts[i].Value *= f
			}
		}
		lines = append(lines, pts)
		names = append(names, fmt.Sprint(n))
	}
	if len(names) == 1 {
		return lines, "plant " + names[0]
	}
	return lines, "plants " + words.List(names)
}

// sameTime is how far apart two plants' values may be and still count as of one time: half a month.
const sameTime = 15 * 24 * time.Hour

// startRatio is the factor that brings another plant's value to this one's at the time when both are known first.
func startRatio(own, other []chart.Point) (float64, bool) {
	for _, o := range other {
		for i, p := range own {
			if p.At.Sub(o.At).Abs() < sameTime && o.Value > 0 && own[i].Value > 0 {
				return own[i].Value / o.Value, true
			}
		}
	}
	return 0, false
}

// trendLines lays each phase's slope through the middle of the phase's points: the intercept is the median of what
// the slope leaves, as goes with a Theil-Sen slope.
func (x *index) trendLines(k seriesKey, q quantity.Info) []chart.Trend {
	trends := x.trends[k]
	phased := false
	for _, t := range trends {
		phased = phased || t.Phase != "all"
	}
	var out []chart.Trend
	for _, t := range trends {
		from, okA := words.Day(t.FromDate)
		to, okB := words.Day(t.ToDate)
		if (phased && t.Phase == "all") || !okA || !okB || math.IsNaN(t.SlopePerMonth) {
			continue
		}
		var rest []float64
		for _, s := range x.series[k] {
			if at, ok := words.Day(s.Date); ok && s.Date >= t.FromDate && s.Date <= t.ToDate {
				rest = append(rest, s.Value-t.SlopePerMonth*monthsBetween(from, at))
			}
		}
		if len(rest) < 3 {
			continue
		}
		a := uncert.Median(rest)
		out = append(out, chart.Trend{From: from, To: to, FromValue: a * q.Scale,
			ToValue: (a + t.SlopePerMonth*monthsBetween(from, to)) * q.Scale})
	}
	return out
}

// monthsBetween counts mean months, the unit of all slopes.
func monthsBetween(a, b time.Time) float64 { return b.Sub(a).Hours() / 24 / record.MonthDays }

// describe says in a sentence or two what a chart shows, for those who do not see it.
func describe(s chart.Spec, box *Chart) string {
	n := 0
	for _, l := range s.Series {
		n = max(n, len(l.Points))
	}
	text := fmt.Sprintf("%s. Latest: %s.", words.Count(n, "session", "sessions"), box.Latest)
	if len(s.Marks) > 0 {
		text += " " + words.Count(len(s.Marks), "event is", "events are") + " marked."
	}
	return text
}
