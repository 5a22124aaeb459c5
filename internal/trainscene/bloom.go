package trainscene

// bloom adds flower stems with blooms and buds.
func (g *grower) bloom() {
	spikes := g.count(1, 3)
	c1, c2 := g.petal(), g.petal()
	mid := lch(g.in(35, 85), g.in(20, 80), g.in(-20, 110))
	pattern := g.IntN(3)
	seed := g.Uint32()
	petal := func(u, v float32, at vec) look {
		c := c1
		switch pattern {
		case 1:
			c = mix(c2, c1, smooth(0.1, 0.6, v))
		case 2:
			d1, _, _ := cells(u*5, v*7, seed)
			c = mix(c2, c1, smooth(0.1, 0.2, d1))
		}
		return look{albedo: c.mul(0.9 + 0.2*noise(u*9, v*3, seed)), gloss: 0.1, rough: 0.7, through: 0.4}
	}
	stemC := mix(g.f.base, g.leafColour(), g.in(0, 0.6))
	stem := plain(stemC, 0.1, 0.15, 0.6, seed)
	flower := g.size * g.log(0.05, 0.22)
	n5 := g.count(4, 8)
	shape := blade{out: g.outline(), fold: g.in(-0.2, 0.4), wave: g.in(0, 0.2)}
	petals := corolla{size: flower, n: n5, petal: shape, mat: petal, widest: 0.5, cup: 0.5}
	for range spikes {
		s, c := sincos(g.in(0, 2*pi))
		lean := g.in(0, 0.5)
		h := g.size * g.in(0.4, 1)
		path := bend(vec{g.near(0, 6), 0, g.near(0, 6)}, vec{lean * c, 1, lean * s}.unit(), h, g.in(0, 1.6)/h*0.8, 18)
		g.p.add(tube(path, func(t float32) float32 { return 2.2 - 1.2*t }, 6, stem, part))
		for k := range g.count(1, 9) {
			t := 0.55 + 0.45*float32(k+1)/9
			at := path[min(17, int(t*17))]
			out := vec{g.near(0, 0.7), g.in(-0.2, 0.5), abs(g.near(0.6, 0.5))}.unit()
			at2 := at.add(out.mul(flower * 0.5))
			g.p.add(tube([]vec{at, at.add(at2).mul(0.5), at2}, func(float32) float32 { return 0.9 }, 4, stem, part))
			if g.chance(0.25) { // a bud
				g.p.add(ball(at2, out, vec{flower * 0.13, flower * 0.2, flower * 0.13}, plain(mix(stemC, c1, 0.4), 0.1, 0.2, 0.5, seed), part))
				continue
			}
			g.petals(at2, out, petals)
			g.p.add(ball(at2.add(out.mul(2)), out, vec{flower * 0.09, flower * 0.07, flower * 0.09}, plain(mid, 0.2, 0.1, 0.8, seed), part))
		}
	}
}

// corolla is the petals of a bloom.
type corolla struct {
	size   float32 // of the bloom
	n      int
	petal  blade // its shape
	mat    material
	widest float32 // share of the bloom that a petal may be wide
	cup    float32 // how far they may lean forward
}

// petals adds them round a bloom that looks in direction out.
func (g *grower) petals(at, out vec, c corolla) {
	x := out.cross(vec{0, 1, 0.1}).unit()
	y := x.cross(out)
	for i := range c.n {
		sa, ca := sincos(2 * pi * float32(i) / float32(c.n))
		b := c.petal
		b.length, b.width = c.size*0.55*g.about(1, 0.08), c.size*g.in(0.3, c.widest)
		g.p.add(b.draw(foot{at, x.mul(ca).add(y.mul(sa)).add(out.mul(g.in(0, c.cup))), out}, c.mat, part, 5, 7))
	}
}

// bulbs adds storage organs at the foot.
func (g *grower) bulbs() {
	c := mix(g.f.base, g.wood(), g.in(0, 0.8))
	ribs := g.in(4, 14)
	seed := g.Uint32()
	mat := func(u, v float32, at vec) look {
		return look{albedo: c.mul(0.75 + 0.25*abs(cos(u*ribs*pi)) + 0.2*noise(u*8, v*8, seed)), gloss: 0.3, rough: 0.4}
	}
	l := g.size * g.in(0.05, 0.16)
	for range g.count(2, 6) {
		s, co := sincos(g.in(0, 2*pi))
		r := g.size * g.in(0.02, 0.09)
		g.p.add(ball(vec{r * co, l * 0.4, r * s}, vec{g.near(0, 0.2), 1, g.near(0, 0.2)}, vec{l * 0.25, l * 0.6, l * 0.25}, mat, part))
	}
}

// aerialRoots hang over the pot's rim.
func (g *grower) aerialRoots() {
	mat := plain(lch(g.in(45, 80), g.in(3, 22), g.in(85, 130)), 0.15, 0.1, 0.8, g.Uint32())
	for range g.count(2, 8) {
		s, c := sincos(g.in(0, 2*pi))
		l := g.size * g.in(0.25, 0.6)
		path := bend(vec{0, 4, 0}, vec{c, g.in(0.1, 0.9), s}.unit(), l, g.in(2.5, 6)/l, 16)
		r := g.in(1, 3)
		g.p.add(tube(path, func(t float32) float32 { return r * (1 - 0.4*t*t) }, 6, mat, part))
	}
}
