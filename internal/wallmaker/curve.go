package wallmaker

import "math"

// knot is a point of a tube's middle line: place in view, mm; depth of the line behind the wall; half thickness; the way
// from the tube's beginning.
type knot struct{ x, y, z, r, s float64 }

// skin gives a tube's colour, gloss and class at the way s along it and the place v across (-1..1).
type skin func(s, v float64) (col rgb, gloss float32, class uint8)

// tube draws a round body along a line. flat is how much of its roundness is pressed out, 0 none .. 1.
func (c *canvas) tube(line []knot, of skin, flat float64, id uint16) {
	for i := 1; i < len(line); i++ {
		g := segment{a: line[i-1], b: line[i], first: i == 1, last: i == len(line)-1}
		a, b := g.a, g.b
		g.dx, g.dy = b.x-a.x, b.y-a.y
		g.l2 = g.dx*g.dx + g.dy*g.dy
		l := math.Sqrt(g.l2)
		if l < 1e-6 {
			continue
		}
		x0, y0, x1, y1 := c.box((a.x+b.x)/2, (a.y+b.y)/2, l/2+max(a.r, b.r))
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				t, ex, ey, up := g.over(c.mm(x, y))
				if up < 0 {
					continue
				}
				z := float32(a.z + t*(b.z-a.z) - up*(1-0.6*flat))
				k := y*c.w + x
				if z >= c.z[k] && (id == 0 || z >= c.rootZ[k]) {
					continue
				}
				rad := a.r + t*(b.r-a.r)
				side := (-ex*g.dy + ey*g.dx) / l / rad
				col, gloss, class := of(a.s+t*(b.s-a.s), side)
				if id != 0 && z < c.rootZ[k] {
					c.rootZ[k], c.rootClass[k], c.rootID[k] = z, class, id
				}
				round := float32((1 - 0.5*flat) / rad)
				c.put(k, spot{z: z, nx: float32(ex) * round, ny: float32(ey) * round, gloss: gloss, col: col, class: class, id: id})
			}
		}
	}
}

// segment is a tube between two of its knots.
type segment struct {
	a, b        knot
	first, last bool
	dx, dy, l2  float64 // from a to b, and its squared length
}

// over is where a place in view lies to the segment: how far along it, 0..1, how far off its middle line, and how far above that the tube's
// surface lies there; up is negative beside the tube.
func (g *segment) over(px, py float64) (t, ex, ey, up float64) {
	a := &g.a
	t = ((px-a.x)*g.dx + (py-a.y)*g.dy) / g.l2
	if !g.first && t < -0.05 || !g.last && t > 1.3 { // joints belong to the neighbours; ends are round
		return t, 0, 0, -1
	}
	t = max(0, min(1, t))
	ex, ey = px-a.x-t*g.dx, py-a.y-t*g.dy
	rad := a.r + t*(g.b.r-a.r)
	d2 := ex*ex + ey*ey
	if d2 >= rad*rad {
		return t, ex, ey, -1
	}
	return t, ex, ey, math.Sqrt(rad*rad - d2)
}

// path walks a line over the wall: u mm along the wall, y below the rim, turning by a wandering curvature.
type path struct {
	u, y, dir float64 // dir: rad, 0 to the right, pi/2 down
	bend      float64 // rad per mm
	wander    float64 // how fast the curvature wanders
	pull      float64 // how strongly it turns downwards, rad per mm
	keep      float64 // how fast the curvature fades, per mm
	kink      float64 // chance per mm of a sudden turn
}

func (p *path) step(d dice, mm float64) {
	p.bend += p.wander*d.normal()*math.Sqrt(mm) - p.keep*p.bend*mm
	p.dir += p.bend*mm + p.pull*mm*math.Sin(math.Pi/2-p.dir)
	if p.kink > 0 && d.chance(p.kink*mm) {
		p.dir += d.normal() * 0.7
	}
	p.u += mm * math.Cos(p.dir)
	p.y += mm * math.Sin(p.dir)
}

// strand is a thin line through the medium.
type strand struct {
	length, thick float64 // mm
	curl          float64 // rad per mm
	col           rgb
	end           rgb
	z, slope      float64
}

// thread draws a strand in view from a place on.
func (c *canvas) thread(d dice, x, y, dir float64, s strand) {
	n := max(2, int(s.length/max(0.5, s.thick)))
	n = min(n, 24)
	step := s.length / float64(n)
	line := make([]knot, n+1)
	bend := s.curl * d.normal()
	z := s.z
	for i := range line {
		t := float64(i) / float64(n)
		line[i] = knot{x, y, max(s.thick/2, z), s.thick / 2 * (1 - 0.5*t), t}
		bend += s.curl * 0.5 * d.normal()
		dir += bend * step
		x += step * math.Cos(dir)
		y += step * math.Sin(dir)
		z += s.slope * step
	}
	c.tube(line, func(t, v float64) (rgb, float32, uint8) {
		return s.col.mix(s.end, float32(t)), 0.15, Medium
	}, 0, 0)
}
