package trainscene

// surroundings adds ground, wall, hedge, lawn and things.
func (c *composer) surroundings() {
	mat := c.surface()
	if c.photos.some() && c.chance(0.3) {
		mat = c.photos.texture(c.dice)
	}
	const far = 3000
	ground := grid(56, 56, func(i, j int) (vec, float32, float32) {
		// Finer near the plant, where shadows fall.
		s := func(k int) float32 { t := 2*float32(k)/55 - 1; return t * abs(t) * far }
		x, z := s(i), s(j)
		return vec{x, 0, z}, x, z
	})
	angle := c.near2(0, 0.3)
	if c.chance(0.3) {
		angle = c.in(0, pi)
	}
	sa, ca := sincos(angle)
	ground.mat = func(u, v float32, at vec) look { return mat(u*ca-v*sa+5000, u*sa+v*ca+5000, at) }
	for i := range ground.v {
		ground.v[i].n = vec{0, 1, 0}
	}
	ground.dark = true
	c.ground = append(c.ground, ground)
	if c.top {
		if c.chance(0.07) {
			c.lawn()
		}
		c.things()
		return
	}
	back := -c.log(80, 1500) - max(0, -c.lo[2])
	for _, l := range c.behind {
		back = min(back, -l.blurPx-80)
	}
	wm := c.surface()
	if c.photos.some() && c.chance(0.3) {
		wm = c.photos.texture(c.dice)
	}
	wall := grid(40, 24, func(i, j int) (vec, float32, float32) {
		x, y := (float32(i)/39-0.5)*2*far, float32(j)/23*2200-100
		return vec{x, y, back}, x + 5000, 5000 - y
	})
	wall.mat = wm
	for i := range wall.v {
		wall.v[i].n = vec{0, 0, 1}
	}
	wall.dark = true
	c.wall = append(c.wall, wall)
	if c.chance(0.13) {
		c.hedge(back + 30)
	}
	if c.chance(0.06) {
		c.lawn()
	}
	c.things()
}

// hedge is a wall of leaves of some other plant.
func (c *composer) hedge(z float32) {
	f := c.foliage()
	f.base = c.green()
	g := grower{dice: c.dice, f: &f, size: 200, detail: 0.6, p: &plant{}}
	ll := c.log(18, 90)
	b := g.shape(ll, ll*g.in(0.3, 0.8))
	b.teeth = 0
	var mats []material
	for range 7 {
		mats = append(mats, f.material(c.dice))
	}
	n := int(clamp(2.2e6/(ll*ll), 300, 2600))
	dark := rectangle{vec{-1400, -60, z - ll}, vec{2800}, vec{0, 1500}}.mesh(2, 2, plain(f.base.mul(0.15), 0.3, 0, 1, 1), other)
	ms := []*mesh{dark}
	for i := range n {
		p := vec{c.near2(0, 550), abs(c.near2(0, 420)), z + c.in(-1, 0.6)*ll}
		if i%3 == 0 {
			p = vec{c.in(-900, 900), c.in(-20, 900), p[2]}
		}
		v := g.vary(b)
		ms = append(ms, v.draw(foot{p, vec{c.near2(0, 0.7), c.near2(0, 0.7), c.in(0, 0.7)}, vec{c.near2(0, 0.4), 0.5, 1}}, mats[i%7], other, 3, 6))
	}
	c.behind = append([]layer{{ms, max(20, -z)}}, c.behind...)
}

// lawn covers the ground with grass of some other kind.
func (c *composer) lawn() {
	f := c.foliage()
	f.base = c.green()
	mats := []material{f.material(c.dice), f.material(c.dice), f.material(c.dice)}
	h := c.log(12, 70)
	r := c.hi.sub(c.lo).norm() * 0.8
	b := blade{length: h, width: max(1.5, h*0.07), out: func(t float32) float32 { return 1 - t }, sink: 0.8 / h}
	for i := range 4200 {
		s, co := sincos(c.in(0, 2*pi))
		q := r * sqrt(c.Float32()) * 1.4
		v := b
		v.length *= c.in(0.5, 1.2)
		m := v.draw(foot{vec{q * co, 0, q * s}, vec{c.near2(0, 0.5), 1, c.near2(0, 0.5)}, vec{c.near2(0, 1), 0.3, 1}}, mats[i%3], other, 2, 4)
		c.ground = append(c.ground, m)
	}
	base := f.base.mul(0.35)
	soil := c.wood().mul(0.5)
	seed := c.Uint32()
	c.ground[0].mat = func(u, v float32, at vec) look {
		return look{albedo: mix(base, soil, fbm(u/12, v/12, 3, seed)), rough: 1}
	}
	c.ground[0].class = other
}

// things lie and stand about: boxes, balls, jars, sticks, ribbons; of any colour, leaf green too.
func (c *composer) things() {
	for range c.pick(4, 2, 2, 1, 1) {
		c.thing()
	}
}

// thing is one of them.
func (c *composer) thing() {
	col := c.anyColour()
	if c.chance(0.3) {
		col = c.leafColour()
	}
	mat := plain(col, 0.1, c.in(0, 0.7), c.in(0.15, 1), c.Uint32())
	s := c.log(8, 110)
	r := max(c.hi[0], -c.lo[0]) * c.in(0.6, 1.6)
	if c.chance(0.5) {
		r = -r
	}
	at := vec{r, 0, c.near2(0, 90)}
	if c.top {
		t, u := sincos(c.in(0, 2*pi))
		at = vec{abs(r) * t, 0, abs(r) * u}
	} else if c.chance(0.4) {
		at[2] = c.hi[2] + c.in(0, 60)
		at[0] = c.in(1.2*c.lo[0], 1.2*c.hi[0])
		s *= 0.4
	}
	switch c.pick(2, 1, 2, 1.5, 1, 1.2) {
	case 0:
		c.near = append(c.near, box(at.add(vec{-s * c.in(0.2, 1), 0, -s * 0.4}), at.add(vec{s * c.in(0.2, 1), s * c.in(0.1, 1.4), s * 0.4}), mat, rest)...)
	case 1:
		c.near = append(c.near, ball(at.add(vec{0, s / 2, 0}), vec{0, 1, 0}, vec{s / 2, s / 2, s / 2}, mat, rest))
	case 2:
		h := s * c.in(0.8, 2.5)
		c.near = append(c.near, lathe(at, [][2]float32{{s * 0.4, 0}, {s * 0.45, h * 0.5}, {s * c.in(0.1, 0.5), h * 0.8}, {s * 0.3, h}, {0, h}}, 24, mat, rest))
	case 3: // a flat strip
		t, u := sincos(c.in(0, 2*pi))
		l := s * c.in(1, 3)
		a, b := vec{l * t, 0, l * u}, vec{-s * 0.2 * u, 0, s * 0.2 * t}
		c.near = append(c.near, rectangle{at.add(vec{0, 1.5, 0}), a, b}.mesh(3, 3, mat, rest))
	case 4: // a stick or hose
		p := bend(at.add(vec{0, 3, 0}), vec{c.near2(0, 1), c.in(0, 0.5), c.near2(0, 1)}.unit(), s*3, 0.002, 10)
		for i := range p {
			p[i][1] = max(2, p[i][1])
		}
		rr := c.in(1, 6)
		c.near = append(c.near, tube(p, func(float32) float32 { return rr }, 7, mat, rest))
	case 5:
		c.cutOut(s*2, at)
	}
}

// cutOut stands a cut-out of a photograph somewhere, if there is one.
func (c *composer) cutOut(height float32, at vec) {
	if c.photos == nil || len(c.photos.cuts) == 0 {
		return
	}
	cut := &c.photos.cuts[c.IntN(len(c.photos.cuts))]
	class := rest
	if cut.class == leaf || cut.class == part {
		class = other
	}
	c.near = append(c.near, cut.stand(height, class).place(1, 0, at))
}
