package chart

import (
	"fmt"
	"html"
	"math"
	"strings"
	"time"
)

// Spark is a series as one small line without axes: how it went, at a glance. Marks are the days of events.
type Spark struct {
	Words  string // what it shows, for those who do not see it
	Points []Point
	Marks  []time.Time
	Floor  bool // the line begins at zero
	W, H   float64
}

// SVG draws the line; "" where there are fewer than two points. The last point is the one that is told beside it.
func (s Spark) SVG() string {
	pts := finite(s.Points)
	if len(pts) < 2 {
		return ""
	}
	if s.W == 0 {
		s.W, s.H = 132, 34
	}
	const rim = 4.0
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		lo, hi = math.Min(lo, p.Value-p.U95), math.Max(hi, p.Value+p.U95)
	}
	if s.Floor {
		lo = math.Min(0, lo)
	}
	from, to := sec(pts[0].At), sec(pts[len(pts)-1].At)
	if !(hi > lo) || !(to > from) {
		return ""
	}
	x := func(t time.Time) float64 { return rim + (s.W-2*rim)*(sec(t)-from)/(to-from) }
	y := func(v float64) float64 { return rim + (s.H-2*rim)*(hi-v)/(hi-lo) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="spark" viewBox="0 0 %s %s" role="img" aria-label="%s">`, num(s.W), num(s.H), html.EscapeString(s.Words))
	for _, m := range s.Marks {
		if v := x(m); v >= rim && v <= s.W-rim {
			fmt.Fprintf(&b, `<path class="s event" stroke-width="1" stroke-dasharray="2 2" d="M%s 1V%s"/>`, num(v), num(s.H-1))
		}
	}
	var band, line strings.Builder
	for i, p := range pts {
		op := "L"
		if i == 0 {
			op = "M"
		}
		fmt.Fprintf(&band, "%s%s %s", op, num(x(p.At)), num(y(p.Value+p.U95)))
		fmt.Fprintf(&line, "%s%s %s", op, num(x(p.At)), num(y(p.Value)))
	}
	for i := len(pts) - 1; i >= 0; i-- {
		fmt.Fprintf(&band, "L%s %s", num(x(pts[i].At)), num(y(pts[i].Value-pts[i].U95)))
	}
	last := pts[len(pts)-1]
	fmt.Fprintf(&b, `<path class="f band" d="%sz"/><path class="s ink" stroke-width="1.5" d="%s"/><circle class="f ink" cx="%s" cy="%s" r="2.6"/></svg>`,
		band.String(), line.String(), num(x(last.At)), num(y(last.Value)))
	return b.String()
}
