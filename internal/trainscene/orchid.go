package trainscene

// orchid: broad leaves in two rows, spikes on stakes before them, thick roots over the pot's rim, as growers of clear pots have most.
func (g *grower) orchid() {
	n := g.count(3, 9)
	length := g.size * g.in(0.35, 0.6)
	b := g.shape(length, length*g.log(0.2, 0.55))
	b.teeth = 0
	b.sink = g.in(0.2, 1.8) / length
	az, hi := g.in(-0.6, 0.6), g.in(0.3, 1.2)
	for i := range n {
		t := (float32(i) + 0.5) / float32(n)
		a := az
		if i%2 == 1 {
			a += pi
		}
		g.leafFrom(g.vary(b), vec{0, t * g.size * 0.07, 0}, a+g.near(0, 0.35), g.in(0.05, 0.4)+t*hi)
	}
	if g.chance(0.6) {
		for range g.count(1, 3) {
			g.spike()
		}
	}
	if g.chance(0.55) {
		g.thickRoots()
	}
	if g.chance(0.2) {
		g.bulbs()
	}
}

// spike is a flower stem that rises before, between or behind the leaves, mostly tied to a stake, bare or with a few buds and blooms.
func (g *grower) spike() {
	h := g.size * g.in(0.5, 1.1)
	foot := vec{g.near(0, 12), 0, g.near(6, 14)}
	lean := vec{g.near(0, 0.15), 1, g.near(0.05, 0.15)}.unit()
	path := bend(foot, lean, h, g.in(0, 0.7)/h, 18)
	r := g.log(1.2, 3.2)
	colour := mix(g.f.base, g.leafColour(), g.in(0, 0.7))
	if g.chance(0.3) {
		colour = mix(colour, lch(g.in(20, 45), g.in(10, 30), g.in(10, 70)), g.in(0.3, 1))
	}
	stem := plain(colour, 0.12, 0.2, 0.5, g.Uint32())
	g.p.add(tube(path, func(t float32) float32 { return r * (1 - 0.5*t) }, 6, stem, part))
	for k := range g.count(0, 5) { // nodes
		at := path[min(17, 2+3*k)]
		g.p.add(ball(at, lean, vec{r * 1.4, r * g.in(1.5, 4), r * 1.4}, stem, part))
	}
	if g.chance(0.7) {
		side := vec{g.near(0, 7), 0, g.near(-1, 5)}
		rs := g.log(1, 3)
		mat := plain(g.wood(), 0.15, 0.15, 0.7, g.Uint32())
		if g.chance(0.35) {
			mat = plain(g.anyColour(), 0.05, 0.4, 0.4, g.Uint32())
		}
		top := h * g.in(0.5, 1)
		a := foot.add(side)
		a[1] = -20
		e := a.add(vec{lean[0] * top, top + 20, lean[2] * top})
		g.p.add(tube([]vec{a, a.add(e).mul(0.5), e}, func(float32) float32 { return rs }, 6, mat, rest))
		clip := plain(g.anyColour(), 0.05, 0.3, 0.5, g.Uint32())
		for range g.count(0, 3) {
			t := g.in(0.15, 0.9)
			q := a.add(e.add(a.mul(-1)).mul(t))
			s := g.in(2.5, 6)
			g.p.add(box(q.add(vec{-s, -s * 0.5, -s}), q.add(vec{s * g.in(1, 3), s * 0.5, s}), clip, rest)...)
		}
	}
	petal := plain(g.petal(), 0.1, 0.1, 0.7, g.Uint32())
	flower := g.size * g.log(0.06, 0.2)
	shape := blade{out: g.outline(), fold: g.in(-0.2, 0.4)}
	n5 := g.count(5, 7)
	for k := range g.count(-4, 7) {
		at := path[min(17, int(17*(0.5+0.5*float32(k+1)/8)))]
		out := vec{g.near(0, 0.7), g.in(-0.2, 0.4), abs(g.near(0.7, 0.4))}.unit()
		at2 := at.add(out.mul(flower * 0.4))
		g.p.add(tube([]vec{at, at.add(at2).mul(0.5), at2}, func(float32) float32 { return 0.9 }, 4, stem, part))
		if g.chance(0.35) {
			g.p.add(ball(at2, out, vec{flower * 0.15, flower * 0.2, flower * 0.15}, stem, part))
			continue
		}
		g.petals(at2, out, corolla{size: flower, n: n5, petal: shape, mat: petal, widest: 0.55, cup: 0.4})
	}
}

// thickRoots arch from the foot over the rim and hang down, silver or green, with a green or reddish tip.
func (g *grower) thickRoots() {
	body := lch(g.in(50, 85), g.in(2, 20), g.in(90, 130))
	tip := mix(g.f.base, lch(g.in(35, 60), g.in(15, 40), g.in(20, 125)), g.in(0, 1))
	seed := g.Uint32()
	tipAt := g.in(0.8, 1.05)
	mat := func(u, v float32, at vec) look {
		return look{albedo: mix(body, tip, smooth(tipAt-0.05, tipAt, v)).mul(0.85 + 0.3*noise(at[1]*0.2, at[0]*0.2, seed)), gloss: 0.1, rough: 0.8}
	}
	for range g.count(1, 8) {
		s, c := sincos(g.in(-0.4, pi+0.4)) // most before the leaves
		l := g.size * g.in(0.3, 0.75)
		path := bend(vec{g.near(0, 6), 2, g.near(4, 6)}, vec{c, g.in(0.5, 1.6), s}.unit(), l, g.in(3, 5.5)/l, 20)
		r := g.in(1.8, 4.2)
		g.p.add(tube(path, func(t float32) float32 { return r * (1 - 0.35*smooth(0.85, 1, t)) }, 8, mat, part))
	}
}
