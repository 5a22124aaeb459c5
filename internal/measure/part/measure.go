package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/record"
)

// Measure measures a line. Errors are sentences for the grower: see the Err values.
func Measure(in Input, l Line, s Settings) (Result, error) {
	if in.Surface == nil || !(in.DistanceMM > 0) {
		return Result{}, ErrNoDistance
	}
	if !l.Length && !l.Width && !l.Bend && !l.Angle {
		return Result{}, ErrNothing
	}
	points, err := in.onSurface(l)
	if err != nil {
		return Result{}, err
	}
	base := newCurve(points)
	if len(base.at) < 2 || base.length() < apartMM {
		return Result{}, ErrOnePoint
	}
	mid, _ := base.place(base.length() / 2)
	m := measuring{in: &in, l: &l, s: s, sc: in.scalesAt(mid, &l)}
	var r Result
	if l.Width {
		m.width(&r, points[0], points[len(points)-1])
	}
	if l.Length || l.Bend || l.Angle {
		m.along(&r, base)
	}
	return r, nil
}

type measuring struct {
	in *Input
	l  *Line
	s  Settings
	sc scales
}

// onSurface takes the points to the surface, and says where they cannot lie.
func (in *Input) onSurface(l Line) ([]geom.MM, error) {
	if len(l.Points) < 2 {
		return nil, ErrOnePoint
	}
	var out []geom.MM
	for _, p := range l.Points {
		if !(p.X >= -1 && p.Y >= -1 && p.X <= float64(in.Img.W) && p.Y <= float64(in.Img.H)) {
			return nil, ErrOutside
		}
		if inside(in.Card, p) {
			return nil, ErrOnCard
		}
		for _, t := range in.Tags {
			if inside(t, p) {
				return nil, ErrOnTag
			}
		}
		q, ok := in.Surface.MM(p)
		if !ok {
			if in.OnWall {
				return nil, ErrOffWall
			}
			return nil, ErrOutside
		}
		out = append(out, q)
	}
	return out, nil
}

// inside says whether a point lies in a polygon, by the even-odd rule.
func inside(q []geom.PX, p geom.PX) bool {
	odd := false
	for i, j := 0, len(q)-1; i < len(q); j, i = i, i+1 {
		if (q[i].Y > p.Y) != (q[j].Y > p.Y) && p.X < (q[j].X-q[i].X)*(p.Y-q[i].Y)/(q[j].Y-q[i].Y)+q[i].X {
			odd = !odd
		}
	}
	return odd
}

func (m *measuring) width(r *Result, a, b geom.MM) {
	w := widthFound{mm: math.Hypot(b.X-a.X, b.Y-a.Y), ends: [2]geom.MM{a, b}, at: geom.MM{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}}
	if !m.l.NoSnap {
		w = m.in.across(a, b, m.sc)
	}
	for _, f := range w.found {
		if f {
			r.FoundShare += 0.5
		}
	}
	r.WidthMM = w.mm
	dir := geom.MM{X: (w.ends[1].X - w.ends[0].X) / w.mm, Y: (w.ends[1].Y - w.ends[0].Y) / w.mm}
	r.Quantities = append(r.Quantities, named(record.PartWidth, "mm", w.mm, m.widthTerms(w, dir)))
	r.Curve = m.px(w.ends[:])
}

func (m *measuring) along(r *Result, base curve) {
	c := base
	p0, d0 := base.place(0)
	p1, d1 := base.place(base.length())
	u := [2]float64{m.in.pointAt(p0, d0, m.l), m.in.pointAt(p1, d1, m.l)}
	sideU := m.sc.pointMM
	found, width := 0.0, 0.0
	if !m.l.NoSnap {
		var edges [2][]geom.MM
		c, edges, found, width = m.in.toMiddle(base, m.sc)
		if found > 0 {
			first, u0 := m.in.atTip(&c, false, width, m.sc)
			last, u1 := m.in.atTip(&c, true, width, m.sc)
			if u0 > 0 {
				u[0] = u0
			}
			if u1 > 0 {
				u[1] = u1
			}
			c = withEnds(c, first, last)
			sideU = found*edgePx*m.sc.mmPerPx + (1-found)*m.sc.pointMM
			r.Edges = [2][]geom.PX{m.px(edges[0]), m.px(edges[1])}
		}
	}
	if !m.l.Width {
		r.FoundShare, r.WidthMM = found, width
	}
	if m.l.Length {
		r.Quantities = append(r.Quantities, named(record.PartLength, "mm", c.length(), m.lengthTerms(&c, u)))
	}
	if m.l.Bend {
		r.Quantities = append(r.Quantities, named(record.PartBend, "deg", c.bendDeg(), m.bendTerms(&c, sideU)))
	}
	if m.l.Angle {
		r.Quantities = append(r.Quantities, named(record.PartAngle, "deg", c.angleDeg(), m.angleTerms(&c, sideU)))
	}
	const drawn = 60
	var path []geom.MM
	for i := 0; i <= drawn; i++ {
		p, _ := c.place(c.length() * float64(i) / drawn)
		path = append(path, p)
	}
	r.Curve = m.px(path)
}

func (m *measuring) px(points []geom.MM) (out []geom.PX) {
	for _, p := range points {
		if q, ok := m.in.Surface.PX(p); ok {
			out = append(out, q)
		}
	}
	return
}
