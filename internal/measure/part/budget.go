package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

const (
	// edgePx is the standard uncertainty of where an edge is found, px of a sharp photo, the same all along it: the value of
	// leaf outlines, which are placed by the same half level (package leaf).
	edgePx = 0.15
	// turnedDeg is how far a plant stands turned against the card from one day to another, standard deviation: a pot put back by
	// hand, a card propped up anew (package change says where it comes from).
	turnedDeg = 2.0
	// viewedDeg is how far the side that the photo is taken from differs from day to day, standard deviation: the figure that
	// rendered days are drawn with (package scenemaker; plain judgement). What leans is seen shortened otherwise from there.
	viewedDeg = 3.2
)

// term names of a line's budget.
const (
	termPointing = "pointing"
	termScale    = "scale fit"
	termPrint    = "print"
	termDepth    = "depth common"
	termShot     = "depth shot"
	termSlope    = "slope"
	termTurned   = "turned"
	termSections = "sections"
	termUpright  = "card upright"
)

func named(name record.QuantityName, unit string, v float64, terms []record.Term) record.Quantity {
	return uncert.Quantity(name, unit, v, terms...)
}

// lean is what leaning out of the card's plane can do, as shares of a length: foreshortening, which makes it look shorter only,
// and the nearer end looking larger where it is seen from aside.
type lean struct{ shorter, aside, turned float64 }

// leanAt is for a length along dir about a place.
func (m *measuring) leanAt(p, dir geom.MM) lean {
	if m.in.OnWall || m.s.SlopeDeg == 0 { // on the pot's wall, or said to lie in the plane
		return lean{}
	}
	s := m.s.SlopeDeg * math.Pi / 180
	tan := 0.0 // of the angle at which the line's own direction is seen
	if e := m.in.Eye; e[2] != 0 {
		tan = math.Abs(((p.X-e[0])*dir.X + (p.Y-e[1])*dir.Y) / e[2])
	}
	t := turnedDeg * math.Pi / 180
	return lean{
		// A slope anywhere within +-s takes s^2/2 at most and is the square of a rectangular one: its root mean square is
		// s^2/(2 sqrt 5).
		shorter: s * s / (2 * math.Sqrt(5)),
		aside:   math.Tan(s) * tan,
		turned:  math.Hypot(t*math.Hypot(s/math.Sqrt(3), tan), s/math.Sqrt(3)*viewedDeg*math.Pi/180),
	}
}

// lengthwise are the terms that every length has.
func (m *measuring) lengthwise(v float64, p, dir geom.MM) []record.Term {
	d := math.Max(1, m.in.DistanceMM)
	k := m.leanAt(p, dir)
	relU := 0.0
	if m.in.RelU != nil {
		relU = m.in.RelU(p)
	}
	return []record.Term{
		uncert.Normal(termScale, v*relU),
		uncert.Common(uncert.Normal(termPrint, v*m.in.PrintRelU)),
		uncert.Common(uncert.Rectangular(termDepth, v*m.s.DepthMM/d)),
		uncert.Rectangular(termShot, v*m.s.DepthShotMM/d),
		// One-sided in truth: the part is longer than it looks, not shorter. The interval stays even about the value, wide enough.
		uncert.Common(uncert.Normal(termSlope, v*k.shorter)),
		uncert.Common(uncert.Rectangular(termSlope+" seen aside", v*k.aside)),
		uncert.Normal(termTurned, v*k.turned),
	}
}

// sharpSpreadPx is the edge width of a sharp photo; package leaf counts blur in the same.
const sharpSpreadPx = 1.8

// tinyMM stands for a length of nothing where it would be divided by.
const tinyMM = 1e-6

func (m *measuring) lengthTerms(c *curve, ends [2]float64) []record.Term {
	mid, _ := c.place(c.length() / 2)
	a, _ := c.place(0)
	b, _ := c.place(c.length())
	n := math.Max(tinyMM, c.chord())
	dir := geom.MM{X: (b.X - a.X) / n, Y: (b.Y - a.Y) / n}
	return append([]record.Term{uncert.Normal(termPointing, math.Hypot(ends[0], ends[1]))}, m.lengthwise(c.length(), mid, dir)...)
}

func (m *measuring) widthTerms(w widthFound, dir geom.MM) []record.Term {
	u := 0.0
	blur := math.Max(1, m.in.EdgeSpreadPx/sharpSpreadPx) // in sharp edges, as package leaf counts them
	for _, f := range w.found {
		if f {
			// Both edges are off the same way, outwards or inwards: they add.
			u += edgePx * blur * m.sc.mmPerPx
		}
	}
	for _, f := range w.found {
		if !f {
			u = math.Hypot(u, m.sc.pointMM)
		}
	}
	return append([]record.Term{uncert.Normal(termPointing, u), uncert.Normal(termSections, w.spreadU)}, m.lengthwise(w.mm, w.at, dir)...)
}

// bendTerms: each third's direction hangs on two places, a third of the length apart.
func (m *measuring) bendTerms(c *curve, u float64) []record.Term {
	third := math.Max(tinyMM, c.length()/3)
	mid, dir := c.place(c.length() / 2)
	k := m.leanAt(mid, dir)
	bend := c.bendDeg()
	return []record.Term{
		uncert.Normal(termPointing, 2*u/third*180/math.Pi),
		// A bend in a plane that leans looks sharper or flatter by as much as lengths in it do.
		uncert.Common(uncert.Normal(termSlope, bend*k.shorter)),
		uncert.Common(uncert.Rectangular(termSlope+" seen aside", bend*k.aside)),
		uncert.Normal(termTurned, bend*k.turned),
	}
}

func (m *measuring) angleTerms(c *curve, u float64) []record.Term {
	mid, _ := c.place(c.length() / 2)
	deg := 180 / math.Pi
	out := []record.Term{
		uncert.Normal(termPointing, math.Sqrt2*u/math.Max(tinyMM, c.chord())*deg),
		uncert.Rectangular(termUpright, m.s.CardUpDeg),
	}
	if !m.in.OnWall {
		s := m.s.SlopeDeg * math.Pi / 180
		tan := 0.0
		if e := m.in.Eye; e[2] != 0 {
			a, _ := c.place(0)
			b, _ := c.place(c.length())
			n := math.Max(tinyMM, c.chord())
			tan = math.Abs((mid.X-e[0])*(b.Y-a.Y)-(mid.Y-e[1])*(b.X-a.X)) / n / math.Abs(e[2])
		}
		// A line that leans is moved, at its nearer end, towards where the eye looks past it: what of that lies square to the
		// line turns it, by the slope times the tangent of the viewing angle to that side.
		out = append(out, uncert.Common(uncert.Rectangular(termSlope+" seen aside", s*tan*deg)), uncert.Normal(termTurned, turnedDeg*math.Hypot(s/math.Sqrt(3), tan)))
	}
	return out
}
