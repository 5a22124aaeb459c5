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
		a, b := line[i-1], line[i]
		dx, dy := b.x-a.x, b.y-a.y
		l2 := dx*dx + dy*dy
		l := math.Sqrt(l2)
		if l < 1e-6 {
			continue
		}
		r := max(a.r, b.r)
		x0, y0, x1, y1 := c.box((a.x+b.x)/2, (a.y+b.y)/2, l/2+r)
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				px, py := c.mm(x, y)
				t := ((px-a.x)*dx + (py-a.y)*dy) / l2
				if i > 1 && t < -0.05 || i < len(line)-1 && t > 1.3 { // joints belong to the neighbours; ends are round
					continue
				}
				t = max(0, min(1, t))
				ex, ey := px-a.x-t*dx, py-a.y-t*dy
				rad := a.r + t*(b.r-a.r)
				d2 := ex*ex + ey*ey
				if d2 >= rad*rad {
					continue
				}
				up := math.Sqrt(rad*rad - d2)
				zc := a.z + t*(b.z-a.z)
				z := float32(zc - up*(1-0.6*flat))
				k := y*c.w + x
				if z >= c.z[k] && (id == 0 || z >= c.rootZ[k]) {
					continue
				}
				side := (-ex*dy + ey*dx) / l / rad
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
