package wallmaker

import "math"

// clutter draws what has a root's shape and is none: twigs, sticks, straws, ties, needles, wires, stalks, threads.
func (c *canvas) clutter(d dice, top func(x float64) float64) {
	if d.chance(0.45) {
		return
	}
	t := drawnOnce()
	for range d.between(1, 5) {
		x, y := c.anywhere(d)
		if y < top(x)+2 {
			continue
		}
		z := d.in(0.1, 3)
		switch d.IntN(9) {
		case 0, 1, 2: // twig: woody, kinked, with knots
			c.twig(d, x, y, z)
		case 3: // wooden stick or skewer
			col := d.near(d.in(55, 78), d.in(3, 9), d.in(18, 32), 3)
			grain := d.swatch(t.fibre, 0.04, 0, 12)
			c.rod(d, rod{x, y, z, d.in(30, 120), d.in(0.8, 3), 0.0004}, func(s, v float64) (rgb, float32, uint8) {
				return col.times(1 + 0.3*grain.at(s, v*2)), 0.1, Medium
			})
		case 4: // plastic: stick, tube, tie, in any colour
			col := d.near(d.in(10, 92), d.in(-50, 50), d.in(-50, 50), 2)
			if d.chance(0.5) {
				col = d.near(d.in(10, 92), 0, 0, 2)
			}
			c.rod(d, rod{x, y, z, d.in(20, 90), d.in(0.5, 2.5), d.in(0.0005, 0.02)}, func(s, v float64) (rgb, float32, uint8) { return col, 0.9, Medium })
		case 5: // needles and straws
			col := d.near(d.in(35, 70), d.in(0, 10), d.in(14, 34), 4)
			c.scatter(d, d.between(2, 14), top, func(x, y float64) {
				c.rod(d, rod{x, y, d.in(0.1, 3), d.in(10, 50), d.in(0.3, 0.9), 0.004}, func(s, v float64) (rgb, float32, uint8) { return col, 0.3, Medium })
			})
		case 6: // wire and hair roots: dark threads
			col := d.near(d.in(6, 26), d.in(0, 6), d.in(0, 10), 2)
			c.scatter(d, d.between(3, 30), top, func(x, y float64) {
				c.thread(d, x, y, d.in(0, 6.3), strand{length: d.in(10, 60), thick: d.in(0.2, 0.8), curl: d.in(0.02, 0.15), col: col, end: col, z: d.in(0.1, 2)})
			})
		case 7: // fungal threads: a white web
			n := d.between(20, 160)
			col := d.near(d.in(70, 92), 0, d.in(0, 8), 2)
			for range n {
				a, r := d.in(0, 6.3), math.Sqrt(d.Float64())*d.in(4, 16)
				c.thread(d, x+r*math.Cos(a), y+r*math.Sin(a), d.in(0, 6.3), strand{length: d.in(2, 14), thick: d.in(0.15, 0.4), curl: 0.2, col: col, end: col, z: d.in(0.1, 3)})
			}
		case 8: // a leaf, green, yellow or dead, pressed to the wall
			s := stuff{l: d.in(25, 65), a: d.in(-25, 12), b: d.in(12, 40), spread: 4, squash: 0.8, grain: 0.2, bump: 0.1, cell: 0.1, stretch: 10, gloss: 0.5, round: 1, tex: fibres}
			c.piece(d, piece{&s, x, y, z, d.in(4, 16)})
		}
	}
}

// scatter calls draw for n places on the wall, but for those above the filling.
func (c *canvas) scatter(d dice, n int, top func(x float64) float64, draw func(x, y float64)) {
	for range n {
		x, y := c.anywhere(d)
		if y > top(x)+1 {
			draw(x, y)
		}
	}
}

// rod is something long: its middle, z how deep it lies, its length and half its width, all mm, and how much it winds.
type rod struct{ x, y, z, length, r, wander float64 }

// rod draws one, in any direction.
func (c *canvas) rod(d dice, k rod, of skin) {
	x, y, z, length, r := k.x, k.y, k.z, k.length, k.r
	dir, bend := d.in(0, 2*math.Pi), 0.0
	x -= length / 2 * math.Cos(dir)
	y -= length / 2 * math.Sin(dir)
	n := max(3, int(length))
	line := make([]knot, n)
	slope := 0.04 * d.normal()
	for i := range line {
		line[i] = knot{x, y, math.Max(r, r+z+slope*float64(i-n/2)), r, float64(i)}
		bend += k.wander * d.normal()
		dir += bend
		x += length / float64(n) * math.Cos(dir)
		y += length / float64(n) * math.Sin(dir)
	}
	c.tube(line, of, 0, 0)
}

func (c *canvas) twig(d dice, x, y, z float64) {
	t := drawnOnce()
	bark := d.near(d.in(16, 42), d.in(2, 10), d.in(5, 18), 3)
	wood := d.near(d.in(55, 72), d.in(4, 9), d.in(18, 28), 3)
	rough, fibre := d.swatch(t.rough, 0.06, 0, 2), d.swatch(t.fibre, 0.05, 0, 5)
	peel := d.in(0.6, 2)
	r := d.in(0.6, 2.8)
	type shoot struct {
		x, y, dir, r, length float64
		forks                int // that may yet come one out of the other
	}
	var grow func(shoot)
	grow = func(k shoot) {
		x, y, dir, r, length := k.x, k.y, k.dir, k.r, k.length
		n := max(4, int(length/1.2))
		line := make([]knot, n)
		for i := range line {
			f := float64(i) / float64(n)
			knotty := 1 + 0.25*math.Pow(math.Max(0, math.Cos(f*length*0.5)), 20) // buds and rings
			line[i] = knot{x, y, r + z, r * (1 - 0.35*f) * knotty, f * length}
			if d.chance(0.06) {
				dir += 0.4 * d.normal()
			}
			dir += 0.02 * d.normal()
			if k.forks > 0 && i > 2 && d.chance(0.1) {
				grow(shoot{x, y, dir + d.in(0.5, 1)*float64(1-2*d.IntN(2)), r * 0.6, length * d.in(0.2, 0.5), k.forks - 1})
			}
			x += length / float64(n) * math.Cos(dir)
			y += length / float64(n) * math.Sin(dir)
		}
		c.tube(line, func(s, v float64) (rgb, float32, uint8) {
			if s < 0.8 || s > length-1 { // cut ends
				return wood, 0.1, Medium
			}
			col := bark.times(max(0.2, 1+0.5*rough.at(s, v*r)+0.3*fibre.at(s, v*r)))
			if float64(rough.at(s*0.3+50, v)) > peel {
				col = wood
			}
			return col, 0.1, Medium
		}, 0, 0)
	}
	length := d.in(15, 90)
	dir := d.in(0, 2*math.Pi)
	grow(shoot{x - length/2*math.Cos(dir), y - length/2*math.Sin(dir), dir, r, length, 2})
}

// room is what is seen through the pot above its filling and in gaps: the room behind, leaves, stalks; no part of it is
// medium or root.
func (c *canvas) room(d dice) []rgb {
	t := drawnOnce()
	out := make([]rgb, c.w*c.h)
	base := d.near(d.in(15, 88), d.in(-6, 6), d.in(-8, 16), 4)
	other := d.near(d.in(15, 88), d.in(-20, 10), d.in(-8, 24), 6)
	w := d.swatch(t.cloud, d.in(0.3, 2), 0, 1)
	for j := range c.h {
		for i := range c.w {
			x, y := c.mm(i, j)
			out[j*c.w+i] = base.mix(other, min(1, max(0, 0.5+w.at(x, y))))
		}
	}
	if d.chance(0.6) { // leaves behind or in the pot
		for range d.between(1, 6) {
			col := d.near(d.in(25, 60), d.in(-34, -6), d.in(12, 38), 4)
			x, y := c.mm(d.IntN(c.w), 0)
			y += d.in(-10, 14)
			a, wide, tall := d.in(-1.2, 1.2), d.in(4, 16), d.in(14, 50)
			sin, cos := math.Sincos(a)
			rib := d.swatch(t.fibre, 0.3, math.Pi/2+a, 10)
			soft := d.in(0.3, 2)
			for j := range c.h {
				for i := range c.w {
					px, py := c.mm(i, j)
					u, v := (cos*(px-x)+sin*(py-y))/wide, (-sin*(px-x)+cos*(py-y))/tall
					if m := (1 - u*u - v*v) * wide / soft; m > 0 {
						out[j*c.w+i] = out[j*c.w+i].mix(col.times(1+0.2*rib.at(px, py)+float32(0.25*u)), float32(math.Min(1, m)))
					}
				}
			}
		}
	}
	return out
}
