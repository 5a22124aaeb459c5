package chart

import (
	"fmt"
	"html"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

func (s *Spec) addLine(p *plot.Plot, pts plotter.XYs, st draw.LineStyle) error {
	if len(pts) < 2 {
		return nil
	}
	l, err := plotter.NewLine(pts)
	if err != nil {
		return err
	}
	l.LineStyle = st
	p.Add(l)
	return nil
}

// along is the way from point to point: straight, or in steps.
func (s *Spec) along(at plotter.XYs) plotter.XYs {
	if !s.Steps {
		return at
	}
	var out plotter.XYs
	for i, p := range at {
		if i > 0 {
			out = append(out, plotter.XY{X: p.X, Y: at[i-1].Y})
		}
		out = append(out, p)
	}
	return out
}

func (s *Spec) addComparison(p *plot.Plot) error {
	for _, c := range s.Comparison {
		if err := s.addLine(p, xys(c), style("other", 1.2)); err != nil {
			return err
		}
	}
	return nil
}

func (s *Spec) addTrends(p *plot.Plot) error {
	for _, t := range s.Trends {
		pts := plotter.XYs{{X: sec(t.From), Y: t.FromValue}, {X: sec(t.To), Y: t.ToValue}}
		if err := s.addLine(p, pts, style("trend", 1.6, 5, 3)); err != nil {
			return err
		}
	}
	return nil
}

// marks draws the events' lines; it is a plotter of its own since the lines run over the whole height.
type marks struct{ s *Spec }

// Plot meets plot.Plotter.
func (m marks) Plot(c draw.Canvas, p *plot.Plot) {
	tx, _ := p.Transforms(&c)
	st := p.X.Tick.Label
	st.Color = ink("event")
	st.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: textSize}
	st.XAlign, st.YAlign = draw.XCenter, draw.YBottom
	for _, e := range m.s.Marks {
		if e.At.Before(m.s.From) || e.At.After(m.s.To) {
			continue
		}
		x := tx(sec(e.At))
		c.StrokeLine2(style("event", 1.2, 2, 2), x, c.Min.Y, x, c.Max.Y)
		c.FillText(st, vg.Point{X: x, Y: c.Max.Y + 1}, e.Letter)
	}
}

func (s *Spec) addMarks(p *plot.Plot) error {
	if len(s.Marks) > 0 {
		p.Add(marks{s})
	}
	return nil
}

func (s *Spec) addReplicates(p *plot.Plot) error {
	if len(s.Replicates) == 0 {
		return nil
	}
	sc, err := plotter.NewScatter(xys(s.Replicates))
	if err != nil {
		return err
	}
	sc.GlyphStyle = draw.GlyphStyle{Color: ink("replicate"), Radius: 1.6, Shape: draw.RingGlyph{}}
	p.Add(sc)
	return nil
}

// withBars is a line's points with their intervals, in the form that the library asks for.
type withBars struct {
	plotter.XYs
	s   *Spec
	pts []Point
}

// YError is the distance to the interval's ends.
func (w withBars) YError(i int) (lo, hi float64) { return w.s.below(w.pts[i]), w.s.above(w.pts[i]) }

// shapes pairs each ink with a shape, so that colour is never the only sign.
var shapes = map[string]draw.GlyphDrawer{
	"value": draw.CircleGlyph{}, "green": draw.CircleGlyph{}, "yellow": draw.PyramidGlyph{},
	"purple": draw.BoxGlyph{}, "brown": diamond{},
}

type diamond struct{}

// DrawGlyph draws a filled square on its corner.
func (diamond) DrawGlyph(c *draw.Canvas, st draw.GlyphStyle, at vg.Point) {
	r := st.Radius * 1.25
	c.SetColor(st.Color)
	var p vg.Path
	p.Move(vg.Point{X: at.X, Y: at.Y + r})
	p.Line(vg.Point{X: at.X + r, Y: at.Y})
	p.Line(vg.Point{X: at.X, Y: at.Y - r})
	p.Line(vg.Point{X: at.X - r, Y: at.Y})
	p.Close()
	c.Fill(p)
}

func (s *Spec) addSeries(p *plot.Plot) error {
	for i, l := range s.Series {
		pts := finite(l.Points)
		if len(pts) == 0 {
			continue
		}
		k := ink("k-" + l.Kind)
		at := xys(pts)
		for j := range at {
			at[j].X += s.dodge(i)
		}
		if err := s.addLine(p, s.along(at), style(k, 1.4)); err != nil {
			return err
		}
		bars, err := plotter.NewYErrorBars(withBars{at, s, pts})
		if err != nil {
			return err
		}
		bars.LineStyle, bars.CapWidth = style(k, 1), 4
		p.Add(bars)
		sc, err := plotter.NewScatter(at)
		if err != nil {
			return err
		}
		shape, ok := shapes[l.Kind]
		if !ok {
			shape = draw.CircleGlyph{}
		}
		sc.GlyphStyle = draw.GlyphStyle{Color: k, Radius: 3, Shape: shape}
		p.Add(sc)
	}
	return nil
}

func finite(pts []Point) []Point {
	out := make([]Point, 0, len(pts))
	for _, p := range pts {
		if !math.IsNaN(p.Value) && !math.IsInf(p.Value, 0) {
			if math.IsNaN(p.U95) || math.IsInf(p.U95, 0) || p.U95 < 0 {
				p.U95 = 0
			}
			out = append(out, p)
		}
	}
	return out
}

// addWords lays an invisible spot over every point and event that says in words what is there.
func (s *Spec) addWords(c *canvas, p *plot.Plot, area draw.Canvas) {
	tx, ty := p.Transforms(&area)
	for i, l := range s.Series {
		for _, q := range finite(l.Points) {
			x, y := tx(sec(q.At)+s.dodge(i)).Points(), c.h-ty(q.Value).Points()
			c.raw(fmt.Sprintf(`<circle class="pt" cx="%s" cy="%s" r="8"><title>%s</title></circle>`, num(x), num(y), html.EscapeString(q.Words)))
		}
	}
	for _, e := range s.Marks {
		if e.At.Before(s.From) || e.At.After(s.To) || e.Words == "" {
			continue
		}
		x, y := tx(sec(e.At)).Points(), c.h-area.Max.Y.Points()
		c.raw(fmt.Sprintf(`<circle class="ev" cx="%s" cy="%s" r="9"><title>%s</title></circle>`, num(x), num(y-5), html.EscapeString(e.Words)))
	}
}
