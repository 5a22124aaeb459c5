package trainscene

import (
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/record"
)

// printed is a printed sheet that stands or lies in the scene; stand is what holds it.
type printed struct {
	rectangle
	m      *mesh
	sheet  *sheet
	stand  []*mesh
	number int // the plant's, of a tag
}

var cardLeaf = cardSheet(card.SideLeaf)

// putCard stands or lays the card beside the plant.
func (c *composer) putCard(size float32, v vessel) {
	p := cardPlace{side: 1}
	if c.chance(0.5) {
		p.side = -1
	}
	p.edge = c.hi[0]
	if p.side < 0 {
		p.edge = -c.lo[0]
	}
	p.gap = c.in(-10, 45)
	p.low = !c.top && c.chance(0.35)
	if p.low {
		p.edge = max(v.rim*1.2, 0.6*p.edge)
	}
	if c.chance(0.08) {
		p.gap = -c.in(10, 90) // over pot or leaves
	}
	yaw, roll := c.near2(0, 0.1), c.near2(0, 0.05)
	mat := cardLeaf.material()
	var o, a, b vec
	held := len(c.near)
	if c.top {
		o, a, b = c.lyingCard(p, size)
	} else {
		o, a, b = c.standingCard(p, yaw, roll)
	}
	r := rectangle{o, a, b}
	m := r.mesh(6, 5, mat, rest)
	c.cards = append(c.cards, printed{rectangle: r, m: m, sheet: cardLeaf, stand: slices.Clone(c.near[held:])})
	c.near = append(c.near, m)
	c.show(m)
}

// cardPlace is where the card stands: on which side, how far out the plant reaches there, the gap, beside the pot under the leaves.
type cardPlace struct {
	side, edge, gap float32
	low             bool
}

// lyingCard is the card seen from above: its corner and its two edges.
func (c *composer) lyingCard(p cardPlace, size float32) (o, a, b vec) {
	y := c.in(0, 0.8) * max(0, c.hi[1])
	s, co := sincos(c.near2(0, 0.15))
	a, b = vec{148 * co, 0, 148 * s}, vec{-100 * s, 0, 100 * co}
	mid := vec{p.side * (p.edge + p.gap + 74), y + 1, c.near2(0, 0.3*size)}
	if c.chance(0.4) {
		mid = vec{c.near2(0, 0.3*size), y + 1, -(-c.lo[2] + p.gap + 50)}
	}
	o = mid.sub(a.mul(0.5)).sub(b.mul(0.5))
	if y > 4 {
		c.near = append(c.near, box(vec{mid[0] - 65, 0, mid[2] - 42}, vec{mid[0] + 65, y, mid[2] + 42}, plain(c.wood(), 0.2, 0.1, 1, c.Uint32()), rest)...)
	}
	return o, a, b
}

// standingCard is the card on sticks or on a block: its corner and its two edges.
func (c *composer) standingCard(p cardPlace, yaw, roll float32) (o, a, b vec) {
	up := vec{0, 1, 0}.about(vec{1, 0, 0}, c.near2(-0.05, 0.08))
	a = vec{148}.about(vec{0, 1, 0}, yaw)
	a = a.about(vec{0, 0, 1}, roll)
	b = up.about(vec{0, 0, 1}, roll).mul(-100)
	y := max(52, c.in(0.2, 0.95)*c.hi[1])
	mid := vec{p.side * (p.edge + p.gap + 74), y, c.near2(0, 12)}
	if p.low {
		mid[1] = max(52, c.in(0.1, 0.35)*c.hi[1])
		y = mid[1]
	}
	if p.gap < -10 {
		mid[2] = c.hi[2] + 10
	}
	o = mid.sub(a.mul(0.5)).sub(b.mul(0.5))
	if !c.chance(0.7) {
		c.near = append(c.near, box(vec{mid[0] - 50, 0, mid[2] - 25}, vec{mid[0] + 50, max(4, y-48), mid[2] - 2}, plain(c.anyColour(), 0.1, 0.1, 1, c.Uint32()), rest)...)
		return o, a, b
	}
	st := plain(c.wood(), 0.2, 0.1, 0.8, c.Uint32())
	for _, t := range []float32{c.in(0.1, 0.3), c.in(0.7, 0.9)} {
		p := o.add(a.mul(t)).add(b.mul(0.9)).add(vec{0, 0, -2})
		r := c.in(1.2, 3.5)
		c.near = append(c.near, tube([]vec{p, {p[0], p[1] / 2, p[2]}, {p[0], 0, p[2]}}, func(float32) float32 { return r }, 6, st, rest))
	}
	return o, a, b
}

// putTag sticks the tag on the pot, in it, or beside it.
func (c *composer) putTag(v vessel) {
	number := 1 + c.IntN(card.MaxPlant)
	tag := tagSheet(number)
	w, h := float32(28), float32(38)
	var o, a, b vec
	switch {
	case c.top && (v.rim == 0 || c.chance(0.7)): // on the ground
		s, co := sincos(c.near2(0, 0.3))
		a, b = vec{w * co, 0, w * s}, vec{-h * s, 0, h * co}
		t, u := sincos(c.in(0, 2*pi))
		r := max(c.hi[0], -c.lo[0], 60) * c.in(0.7, 1.1)
		o = vec{r * t, 1.2, r * u}
	case c.top: // stuck in the pot
		a, b = vec{w, 0, 0}, vec{0, -h * 0.4, h * 0.9}
		o = vec{c.in(-0.8, 0.3) * v.rim, v.height + 25, v.rim * c.in(0.3, 0.9)}
	case c.chance(0.55): // on the pot's front
		t := c.in(0.25, 0.75)
		y := v.height * t
		lean := v.slope
		b = vec{0, -1, -lean}.unit().mul(h)
		a = vec{w}.about(vec{0, 0, 1}, c.near2(0, 0.08))
		x := c.near2(0, 0.15*v.rim)
		o = vec{x - w/2, y + h/2, v.front + v.slope*(y+h/2) + 3 + 0.1*v.rim}
	case c.chance(0.5): // stands in the pot
		a, b = vec{w}.about(vec{0, 1, 0}, c.near2(0, 0.2)), vec{c.near2(0, 2), -h, c.near2(0, 3)}
		o = vec{c.in(-0.8, 0.4) * v.rim, v.height + h + c.in(-8, 25), v.rim * c.in(0.4, 0.95)}
		c.near = append(c.near, tube([]vec{o.add(vec{14, -30, -1}), o.add(vec{14, -60, -1}), {o[0] + 14, v.medium, o[2]}}, func(float32) float32 { return 1.5 }, 5, plain(c.anyColour(), 0.1, 0.1, 1, 1), rest))
	default: // stands before or beside it
		a, b = vec{w}.about(vec{0, 1, 0}, c.near2(0, 0.2)), vec{0, -h, 4}
		x := (v.rim + c.in(5, 60))
		if c.chance(0.5) {
			x = -x - w
		}
		o = vec{x, h + c.in(0, 4), c.in(-10, v.rim+20)}
	}
	r := rectangle{o, a, b}
	m := r.mesh(3, 3, tag.material(), rest)
	c.near = append(c.near, m)
	c.show(m)
	c.cards = append(c.cards, printed{rectangle: r, m: m, sheet: tag, number: number})
}

// outline says where the camera sees card and tag.
func (o *composition) outline() {
	o.card, o.tags = nil, nil
	for i, q := range o.sheets {
		var poly []record.Point
		for _, p := range q.corners() {
			x, y, _ := o.cam.see(p)
			poly = append(poly, record.Point{X: float64(x), Y: float64(y)})
		}
		if i == 0 {
			o.card = poly
		} else {
			o.tags = append(o.tags, poly)
		}
	}
}
