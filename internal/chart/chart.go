// Package chart draws a plant's series as small inline SVG: value and interval of each session, replicates, events,
// the trend of each phase, comparison plants behind. The drawing is gonum/plot's; its surface here writes colours as
// classes (the page decides), and each point carries its own words as a title, so that a chart can be read by mouse,
// by keyboard, by a screen reader, on paper and without scripts.
package chart

import (
	"fmt"
	"html"
	"math"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Point is one session's value, in the unit shown. U95 of zero draws no interval.
type Point struct {
	At    time.Time
	Value float64
	U95   float64
	Words string // what hover and focus say
}

// Series is one line of points. Kind chooses ink and shape: value, green, yellow, purple, brown.
type Series struct {
	Kind   string
	Points []Point
}

// Mark is an event: a line across the chart with a letter at its head.
type Mark struct {
	At     time.Time
	Letter string
	Words  string
}

// Trend is the straight line of one phase.
type Trend struct {
	From, To           time.Time
	FromValue, ToValue float64
}

// Spec is a chart.
type Spec struct {
	ID          string // unique on the page
	Title, Desc string
	Series      []Series
	Replicates  []Point   // single photos, small, behind
	Comparison  [][]Point // other plants, thin, behind
	Marks       []Mark
	Trends      []Trend
	From, To    time.Time // extent of the time axis; zero: that of the points
	Floor       bool      // nothing is below zero: the axis begins there and intervals are cut there
	Ceiling     float64   // nothing is above it, such as 100 of a share in per cent: the axis ends there; 0: no end
	Steps       bool      // values hold until the next one, as counts do: drawn as steps
	MinSpan     float64   // the axis covers at least this much, so that noise is not blown up to fill it
	W, H        float64   // px
}

const textSize = 11

// SVG draws the chart. It is empty where there is no point to draw.
func SVG(s Spec) (string, error) {
	if s.W == 0 {
		s.W, s.H = 360, 210
	}
	lo, hi, ok := s.extent()
	if !ok {
		return "", nil
	}
	p := plot.New()
	p.BackgroundColor = nil
	s.axes(p, lo, hi)
	for _, add := range []func(*plot.Plot) error{s.addComparison, s.addMarks, s.addTrends, s.addReplicates, s.addSeries} {
		if err := add(p); err != nil {
			return "", fmt.Errorf("chart %s: %w", s.ID, err)
		}
	}
	c := newCanvas(s.W, s.H)
	area := draw.NewCanvas(c, vg.Length(s.W), vg.Length(s.H))
	area = draw.Crop(area, 1, -4, 1, -14) // room at the top for the events' letters
	p.Draw(area)
	s.addWords(c, p, p.DataCanvas(area))
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>`,
		num(s.W), num(s.H), s.ID, s.ID, s.ID, html.EscapeString(s.Title), s.ID, html.EscapeString(s.Desc))
	b.WriteString(c.body())
	b.WriteString("</svg>")
	return b.String(), nil
}

// all calls f for every point with its lower and upper end.
func (s *Spec) all(f func(p Point, lo, hi float64)) {
	for _, l := range s.Series {
		for _, p := range l.Points {
			f(p, p.Value-s.below(p), p.Value+s.above(p))
		}
	}
	for _, p := range s.Replicates {
		f(p, p.Value, p.Value)
	}
	for _, l := range s.Comparison {
		for _, p := range l {
			f(p, p.Value, p.Value)
		}
	}
}

// extent finds the range of values and settles the time axis.
func (s *Spec) extent() (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	var from, to time.Time
	s.all(func(p Point, l, h float64) {
		if math.IsNaN(l) || math.IsNaN(h) || math.IsInf(l, 0) || math.IsInf(h, 0) {
			return
		}
		lo, hi = math.Min(lo, l), math.Max(hi, h)
		if from.IsZero() || p.At.Before(from) {
			from = p.At
		}
		if p.At.After(to) {
			to = p.At
		}
	})
	if lo > hi {
		return 0, 0, false
	}
	s.settleTime(from, to)
	lo, hi = s.room(lo, hi)
	return lo, hi, true
}

const oneDay = 24 * time.Hour

// How the axes leave room (chosen by eye).
const (
	leastDays    = 60   // of a time axis: one session must not fill the whole width
	firstOfWidth = 8    // the first month's beginning is shown where that takes less than an eighth of the width
	padOfWidth   = 40   // beside the first and the last session
	roomOfHeight = 0.06 // above and below
	leastSpan    = 1e-3 // of an axis of values
)

// settleTime makes a time axis of the days from the first point to the last one, where none was asked for.
func (s *Spec) settleTime(from, to time.Time) {
	if s.From.IsZero() {
		s.From = from
	}
	if s.To.IsZero() {
		s.To = to
	}
	if s.To.Sub(s.From) < leastDays*oneDay {
		mid := s.From.Add(s.To.Sub(s.From) / 2)
		s.From, s.To = mid.AddDate(0, 0, -leastDays/2), mid.AddDate(0, 0, leastDays/2)
	}
	if first := time.Date(s.From.Year(), s.From.Month(), 1, 0, 0, 0, 0, time.UTC); s.From.Sub(first) < s.To.Sub(s.From)/firstOfWidth {
		s.From = first // so that the first month is named on the axis
	}
	pad := s.To.Sub(s.From) / padOfWidth
	s.From, s.To = s.From.Add(-pad), s.To.Add(pad)
}

// room widens a range of values to what the axis shows.
func (s *Spec) room(lo, hi float64) (float64, float64) {
	if s.Floor {
		lo = math.Min(0, lo)
	}
	lo, hi = s.widen(lo, hi)
	room := (hi - lo) * roomOfHeight
	if !s.Floor || lo < 0 {
		lo -= room
	}
	hi += room
	if s.Ceiling > 0 && hi > s.Ceiling {
		lo, hi = math.Max(0, lo-(hi-s.Ceiling)), s.Ceiling // what is cut above is shown below
	}
	return lo, hi
}

// above is how far a point's interval reaches up.
func (s *Spec) above(p Point) float64 {
	if s.Ceiling > 0 && p.Value <= s.Ceiling {
		return math.Min(p.U95, s.Ceiling-p.Value)
	}
	return p.U95
}

// widen opens the range of values to the smallest span that is shown.
func (s *Spec) widen(lo, hi float64) (float64, float64) {
	span := math.Max(s.MinSpan, leastSpan)
	if more := span - (hi - lo); more > 0 {
		if s.Floor && lo == 0 {
			return lo, hi + more
		}
		lo, hi = lo-more/2, hi+more/2
		if s.Floor && lo < 0 {
			lo, hi = 0, hi-lo
		}
	}
	return lo, hi
}

// below is how far a point's interval reaches down.
func (s *Spec) below(p Point) float64 {
	if s.Floor && p.Value >= 0 {
		return math.Min(p.U95, p.Value)
	}
	return p.U95
}

// dodge moves the points of several series apart by a few px, so that equal values do not hide each other.
func (s *Spec) dodge(i int) float64 {
	if len(s.Series) < 2 {
		return 0
	}
	const px = 5
	return (float64(i) - float64(len(s.Series)-1)/2) * px * s.To.Sub(s.From).Seconds() / s.W
}

func style(i ink, width float64, dash ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: i, Width: vg.Length(width), Dashes: dash}
}

func (s *Spec) axes(p *plot.Plot, lo, hi float64) {
	label := func(st *draw.TextStyle) {
		st.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: textSize}
		st.Color = ink("soft")
	}
	p.X.Min, p.X.Max = sec(s.From), sec(s.To)
	p.Y.Min, p.Y.Max = lo, hi
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.LineStyle = style("rule", 1)
		a.Tick.LineStyle = style("rule", 1)
		a.Tick.Length = 3
		a.Padding = 2
		label(&a.Tick.Label)
	}
	p.Y.LineStyle.Width = 0
	p.X.Tick.Marker = months{}
	p.Y.Tick.Marker = round{}
	grid := plotter.NewGrid()
	grid.Vertical.Width = 0
	grid.Horizontal = style("grid", 1)
	p.Add(grid)
}

func sec(t time.Time) float64 { return float64(t.Unix()) }

func xys(pts []Point) plotter.XYs {
	out := make(plotter.XYs, 0, len(pts))
	for _, p := range pts {
		if !math.IsNaN(p.Value) && !math.IsInf(p.Value, 0) {
			out = append(out, plotter.XY{X: sec(p.At), Y: p.Value})
		}
	}
	return out
}
