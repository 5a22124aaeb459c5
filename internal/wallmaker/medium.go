package wallmaker

import (
	"math"
	"sort"
)

func fibres(t *textures) tex { return t.fibre }
func grains(t *textures) tex { return t.grain }
func clouds(t *textures) tex { return t.cloud }

// kinds are the media that come in pieces.
func (d dice) kinds() []stuff {
	dark := d.in(-8, 10)
	return []stuff{
		// bark, fine to coarse, fresh reddish to old and black
		{l: 32 + dark, a: d.in(6, 18), b: d.in(8, 24), spread: 5, lo: d.in(1.5, 4), hi: d.in(4, 14), squash: 0.6, grain: 0.35, bump: 0.2, cell: 0.06, stretch: d.in(1, 6), gloss: 0.2, tex: fibres},
		{l: 24 + dark, a: d.in(3, 12), b: d.in(4, 16), spread: 6, lo: 2, hi: 9, squash: 0.7, grain: 0.5, bump: 0.35, cell: 0.08, stretch: 2, gloss: 0.15},
		// expanded clay
		{l: d.in(28, 52), a: d.in(6, 24), b: d.in(8, 26), spread: 6, lo: 1.5, hi: d.in(3, 9), round: 1, squash: 0.35, grain: 0.25, bump: 0.15, cell: 0.08, stretch: 1, gloss: 0.1, tex: grains},
		{l: d.in(40, 66), a: d.in(0, 6), b: d.in(0, 10), spread: 7, lo: 1.5, hi: d.in(3, 8), round: 1, squash: 0.35, grain: 0.25, bump: 0.2, cell: 0.1, stretch: 1, gloss: 0.1, tex: grains},
		// perlite
		{l: d.in(80, 94), a: 0, b: d.in(0, 6), spread: 3, lo: 0.5, hi: d.in(1.5, 3.2), round: 0.85, squash: 0.35, grain: 0.12, bump: 0.3, cell: 0.12, stretch: 1, gloss: 0.2},
		// pumice, gravel, stones of any colour
		{l: d.in(60, 84), a: d.in(-1, 4), b: d.in(0, 14), spread: 5, lo: 1, hi: d.in(2, 7), round: 0.7, squash: 0.5, grain: 0.3, bump: 0.3, cell: 0.1, stretch: 1, speckle: 0.1},
		{l: d.in(20, 75), a: d.in(-4, 10), b: d.in(-6, 18), spread: 12, lo: 1, hi: d.in(2, 8), round: 0.8, squash: 0.5, grain: 0.2, bump: 0.1, cell: 0.1, stretch: 1, gloss: 0.6, speckle: 0.15, tex: clouds},
		// lava
		{l: d.in(18, 34), a: d.in(4, 18), b: d.in(2, 14), spread: 4, lo: 1.5, hi: 7, round: 0.5, squash: 0.3, grain: 0.7, bump: 0.6, cell: 0.08, stretch: 1, tex: grains},
		// charcoal
		{l: d.in(8, 20), a: 0, b: d.in(-2, 3), spread: 3, lo: 1.5, hi: 7, squash: 0.4, grain: 0.5, bump: 0.2, cell: 0.06, stretch: 4, gloss: 0.7, tex: fibres},
		// coir chips, wood chips, cork
		{l: d.in(34, 52), a: d.in(6, 14), b: d.in(14, 28), spread: 5, lo: 2, hi: 9, squash: 0.6, grain: 0.6, bump: 0.4, cell: 0.05, stretch: 8, tex: fibres},
		{l: d.in(62, 80), a: d.in(2, 8), b: d.in(16, 30), spread: 5, lo: 1, hi: 8, squash: 0.8, grain: 0.25, bump: 0.15, cell: 0.06, stretch: 8, gloss: 0.1, tex: fibres},
		{l: d.in(48, 62), a: d.in(6, 12), b: d.in(14, 26), spread: 5, lo: 2, hi: 9, round: 0.3, squash: 0.4, grain: 0.5, bump: 0.3, cell: 0.1, stretch: 1, speckle: 0.1, tex: grains},
		// rockwool, foam
		{l: d.in(55, 80), a: d.in(-6, 4), b: d.in(0, 26), spread: 4, lo: 3, hi: 9, squash: 0.3, grain: 0.25, bump: 0.3, cell: 0.05, stretch: 4, tex: fibres},
		// soil: crumbs
		{l: d.in(10, 28), a: d.in(2, 8), b: d.in(3, 14), spread: 5, lo: 0.3, hi: d.in(0.8, 3), round: 0.7, squash: 0.5, grain: 0.5, bump: 0.4, cell: 0.1, stretch: 1, gloss: 0.2},
		// glass pebbles and dyed stones
		{l: d.in(30, 80), a: d.in(-40, 40), b: d.in(-40, 40), spread: 6, lo: 1.5, hi: 6, round: 0.9, squash: 0.4, grain: 0.1, bump: 0.05, cell: 0.2, stretch: 1, gloss: 1},
	}
}

// fill puts the media behind the wall from the row top(x) on down. It returns which medium lies at the wall most.
func (c *canvas) fill(d dice, top func(x float64) float64) {
	if c.manner.ground {
		c.plainGround(d, top)
		if d.chance(0.2) {
			c.perlite(d, d.kinds()[4], top)
		}
		return
	}
	c.bottom(d, top)
	kinds := d.kinds()
	moss := d.chance(0.3)
	n := d.media(moss)
	grow := d.logIn(0.6, 1.7)
	for i := range n {
		s := kinds[d.IntN(len(kinds))]
		if i == 0 && d.chance(0.45) {
			s = kinds[d.IntN(2)] // bark is what growers have most
		}
		if i == 0 && d.chance(0.2) {
			s = kinds[2+d.IntN(2)]
		}
		s.lo, s.hi = s.lo*grow, math.Max(s.lo*1.2, s.hi)*grow
		cover := d.in(1.4, 3)
		if i > 0 || moss {
			cover = d.logIn(0.03, 0.8)
		}
		c.pieces(d, &s, cover, top)
	}
	if moss {
		c.moss(d, top, d.in(0.6, 2.2))
	} else if d.chance(0.25) {
		c.moss(d, top, d.logIn(0.03, 0.5))
	}
	if d.chance(0.35) {
		c.perlite(d, kinds[4], top)
	}
}

// media is how many media in pieces lie in a pot.
func (d dice) media(moss bool) int {
	n := 1
	if d.chance(0.5) {
		n = d.between(2, 3)
	}
	if !moss {
		return n
	}
	if d.chance(0.35) {
		return 1
	}
	return 0
}

// pieces lays pieces of one medium one over the other, to cover the wall so many times.
func (c *canvas) pieces(d dice, s *stuff, cover float64, top func(x float64) float64) {
	area := float64(c.w*c.h) / fine / fine
	count := int(cover * area / (2.2 * math.Pow(math.Sqrt(s.lo*s.hi), 2)))
	deepest := d.in(4, 12)
	deep := make([]float64, min(count, 6000))
	for i := range deep {
		deep[i] = 0.1 + deepest*math.Pow(d.Float64(), 1.3)
	}
	sort.Float64s(deep) // from the wall on, so that what is covered need not be drawn
	for _, z := range deep {
		x, y := c.anywhere(d)
		size := d.logIn(s.lo, s.hi)
		if y-size*0.6 < top(x) {
			continue
		}
		c.piece(d, piece{s, x, y, z, size})
	}
}

func (c *canvas) anywhere(d dice) (x, y float64) {
	return c.mm(d.IntN(c.w), d.IntN(c.h))
}

// recede takes the medium away near the pot's outline, where the camera looks past it through the clear wall at the room:
// pieces leave a ragged edge there.
func (c *canvas) recede(d dice) {
	if d.chance(0.35) {
		return
	}
	t := drawnOnce()
	limit := [2]float64{d.in(0.84, 1), d.in(0.84, 1)}
	rough := d.in(0.01, 0.07)
	w, fine := d.swatch(t.cloud, d.in(0.1, 0.4), 0, 1), d.swatch(t.rough, d.in(0.1, 0.3), 0, 1)
	for y := range c.h {
		for x := range c.w {
			mx, my := c.mm(x, y)
			side := 0
			if mx > 0 {
				side = 1
			}
			edge := limit[side] + rough*(float64(w.at(mx, my))+0.5*float64(fine.at(mx, my)))
			if math.Abs(mx) > edge*c.radius(my) {
				i := y*c.w + x
				c.z[i], c.class[i], c.id[i] = far, Medium, 0
			}
		}
	}
}

// bottom is what shows in the gaps: dark medium far from the wall.
func (c *canvas) bottom(d dice, top func(x float64) float64) {
	t := drawnOnce()
	w, m := d.swatch(t.rough, 0.12, 0, 1), d.swatch(t.cloud, 0.5, 0, 1)
	base := d.near(d.in(4, 26), d.in(1, 10), d.in(2, 14), 3)
	z := float32(d.in(7, 16))
	for j := range c.h {
		for i := range c.w {
			x, y := c.mm(i, j)
			if y < top(x) {
				continue
			}
			n := w.at(x, y)
			c.put(j*c.w+i, spot{z: z, nx: 0.4 * n, ny: 0.4 * m.at(x, y), col: base.times(max(0.2, 1+0.6*n))})
		}
	}
}

func (c *canvas) perlite(d dice, s stuff, top func(x float64) float64) {
	for range d.between(5, 120) {
		x, y := c.anywhere(d)
		if y < top(x)+1 {
			continue
		}
		c.piece(d, piece{&s, x, y, d.in(0, 1.5), d.logIn(0.4, 2.8)})
	}
}

// moss draws strands: sphagnum, coir fibre, tree fern, roots of moss; living or dead.
func (c *canvas) moss(d dice, top func(x float64) float64, density float64) {
	type hue struct{ l, a, b, spread float64 }
	hues := []hue{
		{d.in(35, 60), d.in(4, 10), d.in(16, 32), 9},   // straw to brown
		{d.in(60, 82), d.in(-1, 5), d.in(12, 28), 7},   // dry sphagnum
		{d.in(30, 60), d.in(-16, -4), d.in(16, 34), 8}, // living moss
		{d.in(12, 28), d.in(3, 9), d.in(4, 14), 5},     // tree fern
		{d.in(30, 46), d.in(8, 16), d.in(16, 28), 6},   // coir
	}
	a := hues[d.IntN(len(hues))]
	b := a
	if d.chance(0.4) {
		b = hues[d.IntN(len(hues))]
	}
	thick, length := d.logIn(0.15, 0.7), d.logIn(3, 16)
	curl := d.logIn(0.02, 0.5)
	lie, spread := d.in(0, math.Pi), d.in(0.3, 3)
	area := float64(c.w*c.h) / fine / fine
	n := min(9000, int(density*area/(thick*length)))
	patch := d.swatch(drawnOnce().cloud, d.in(0.2, 1), 0, 1)
	patchy := d.chance(0.4)
	leafy := d.chance(0.35) // sphagnum heads: short stubs off a strand
	deepest := d.in(2, 9)
	for i := range n {
		x, y := c.anywhere(d)
		if y < top(x)-1 || patchy && float64(patch.at(x, y)) < d.normal()*0.2 {
			continue
		}
		h := a
		if i%3 == 0 {
			h = b
		}
		z := deepest * (1 - float64(i)/float64(n)) * d.Float64()
		col := d.near(h.l-2*z, h.a, h.b, h.spread)
		if d.chance(0.06) { // a few stand out
			col = col.times(float32(d.in(1.2, 1.8)))
		}
		s := strand{length: length * d.logIn(0.4, 1.8), thick: thick * d.logIn(0.5, 2), curl: curl, col: col, end: col.times(float32(d.in(0.7, 1.3))), z: z, slope: 0.1 * d.normal()}
		dir := lie + spread*d.normal()
		c.thread(d, x, y, dir, s)
		if leafy && d.chance(0.5) {
			for range 4 {
				f := d.Float64() * s.length
				q := s
				q.length, q.thick, q.z = d.in(0.8, 2.5), s.thick*1.2, math.Max(0, s.z-0.2)
				c.thread(d, x+f*math.Cos(dir), y+f*math.Sin(dir), dir+d.in(-1.2, 1.2), q)
			}
		}
	}
}
