package trainscene

// plant is a grown plant: its meshes stand on the point where it leaves the medium.
type plant struct {
	m []*mesh
}

func (p *plant) add(m ...*mesh) { p.m = append(p.m, m...) }

// plain is a material of one colour with a little mottling.
func plain(c rgb, mottle, gloss, rough float32, seed uint32) material {
	return func(u, v float32, at vec) look {
		n := fbm(at[0]*0.12+7, (at[1]+at[2])*0.12, 3, seed)
		return look{albedo: c.mul(1 + mottle*2*(n-0.5)), gloss: gloss, rough: rough}
	}
}

// grow draws a plant about size mm wide and high. detail lowers the count of vertices for those far away.
func (d dice) grow(size float32, detail float32) *plant {
	p := &plant{}
	f := d.foliage()
	g := grower{dice: d, f: &f, size: size, detail: detail, p: p}
	switch d.pick(3.6, 2.6, 1.4, 1.4, 1.6, 1.3, 1.2, 1, 0.9, 1.4, 2) {
	case 0:
		g.rosette()
	case 1:
		g.fan()
	case 2:
		g.tuft()
	case 3:
		g.stemmed()
	case 4:
		g.pinnate()
	case 5:
		g.bush()
	case 6:
		g.creeper()
	case 7:
		g.succulent()
	case 8:
		g.palm()
	case 9:
		g.stalked()
	case 10:
		g.orchid()
		return p
	}
	if d.chance(0.22) {
		g.bloom()
	}
	if d.chance(0.12) {
		g.bulbs()
	}
	if d.chance(0.1) {
		g.aerialRoots()
	}
	return p
}

type grower struct {
	dice
	f      *foliage
	size   float32
	detail float32
	p      *plant
}

func (g *grower) n(a int) int { return max(3, int(float32(a)*g.detail)) }

// leafFrom adds a blade from p towards azimuth and elevation (radians).
func (g *grower) leafFrom(b blade, p vec, az, el float32) {
	s, c := sincos(az)
	se, ce := sincos(el)
	dir := vec{c * ce, se, s * ce}
	face := vec{-c * se, ce, -s * se}
	b.holes = g.f.holed
	mat := g.f.material(g.dice)
	b.phase = g.in(0, 6)
	g.p.add(b.draw(foot{p, dir, face}, mat, leaf, g.n(7), g.n(16)))
}

func (g *grower) shape(length, width float32) blade {
	b := blade{length: length, width: width, out: g.outline(), fold: g.near(0.15, 0.2), wave: 0, sink: 0}
	if g.chance(0.3) {
		b.wave = g.in(0.05, 0.35)
	}
	if g.chance(0.12) {
		b.teeth, b.teethN = g.in(0.1, 0.5), float32(g.count(4, 14))
	}
	return b
}

func (g *grower) vary(b blade) blade {
	b.length *= g.about(1, 0.15)
	b.width *= g.about(1, 0.1)
	b.sink *= g.about(1, 0.3)
	b.twist = g.near(0, 0.3)
	return b
}

// rosette: leaves all round from one point, from lying to upright.
func (g *grower) rosette() {
	n := g.count(5, 34)
	length := g.size * g.in(0.42, 0.62)
	b := g.shape(length, length*g.log(0.16, 0.8))
	b.sink = g.in(-0.3, 1.6) / length
	lo, hi := g.in(0, 0.5), g.in(0.7, 1.45)
	for i := range n {
		t := (float32(i) + 0.5) / float32(n)
		v := g.vary(b)
		v.length *= 0.45 + 0.55*(1-t*t)
		g.leafFrom(v, vec{g.near(0, 3), g.in(0, 6) * t, g.near(0, 3)}, float32(i)*2.4+g.near(0, 0.2), lo+(hi-lo)*t+g.near(0, 0.1))
	}
}

// fan: leaves in two rows, as orchids and irises have them, one above the other.
func (g *grower) fan() {
	n := g.count(3, 12)
	length := g.size * g.in(0.4, 0.65)
	b := g.shape(length, length*g.log(0.12, 0.5))
	b.sink = g.in(0, 1.8) / length
	az := g.in(-0.5, 0.5)
	hi := g.in(0.5, 1.5)
	for i := range n {
		t := (float32(i) + 0.5) / float32(n)
		a := az
		if i%2 == 1 {
			a += pi
		}
		g.leafFrom(g.vary(b), vec{0, t * g.size * 0.08, 0}, a+g.near(0, 0.25), g.in(0.1, 0.4)+t*hi)
	}
}

// tuft: many narrow blades, as grass, sedge and spider plants.
func (g *grower) tuft() {
	n := int(float32(g.count(20, 140)) * clamp(g.detail, 0.3, 1))
	length := g.size * g.in(0.45, 0.8)
	b := blade{length: length, width: max(2, length*g.log(0.012, 0.07)), out: func(t float32) float32 { return pow(1-t, 0.5) * (0.7 + 0.3*smooth(0, 0.2, t)) }, fold: g.in(0, 0.5)}
	b.sink = g.in(0, 2.6) / length
	spread := g.in(0.1, 0.9)
	for range n {
		v := g.vary(b)
		v.length *= g.in(0.4, 1.05)
		g.leafFrom(v, vec{g.near(0, 9), 0, g.near(0, 9)}, g.in(0, 2*pi), clamp(pi/2-abs(g.near(0, spread)), 0.1, 1.55))
	}
}

// stemmed: one or a few upright stems with leaves along them.
func (g *grower) stemmed() {
	stems := g.count(1, 4)
	woody := g.chance(0.4)
	stemMat := plain(mix(g.f.base, lch(50, 25, 110), 0.4), 0.1, 0.2, 0.5, g.Uint32())
	class := leaf
	if woody {
		stemMat, class = plain(g.wood(), 0.3, 0.05, 1, g.Uint32()), part
	}
	ll := g.size * g.in(0.12, 0.4)
	b := g.shape(ll, ll*g.log(0.2, 0.9))
	b.sink = g.in(0, 2) / ll
	for range stems {
		h := g.size * g.in(0.5, 0.95)
		s, c := sincos(g.in(0, 2*pi))
		lean := g.in(0, 0.35)
		path := bend(vec{g.near(0, 8), 0, g.near(0, 8)}, vec{lean * c, 1, lean * s}.unit(), h, g.near(0, 0.4)/h, 14)
		r := g.in(1.2, 4.5)
		g.p.add(tube(path, func(t float32) float32 { return r * (1.1 - 0.7*t) }, 7, stemMat, class))
		n := g.count(5, 22)
		from := g.in(0.05, 0.45)
		for i := range n {
			t := from + (1-from)*(float32(i)+0.5)/float32(n)
			at := path[min(13, int(t*13))]
			v := g.vary(b)
			g.petiole(v, at, float32(i)*2.4+g.near(0, 0.3), g.in(-0.2, 0.9), g.in(0, 0.5)*ll)
		}
	}
}

// petiole adds a leaf on a stalk.
func (g *grower) petiole(b blade, at vec, az, el, stalk float32) {
	if stalk > 3 {
		s, c := sincos(az)
		se, ce := sincos(el)
		path := bend(at, vec{c * ce, se, s * ce}, stalk, g.in(0, 0.01), 6)
		r := clamp(b.width*0.03, 0.6, 2.5)
		g.p.add(tube(path, func(t float32) float32 { return r }, 5, plain(mix(g.f.base, g.f.rib, 0.3), 0.1, 0.2, 0.5, g.Uint32()), leaf))
		at = path[5]
		el -= g.in(0, 0.5)
	}
	g.leafFrom(b, at, az, el)
}

// pinnate: fronds with leaflets on both sides, as ferns.
func (g *grower) pinnate() {
	n := g.count(4, 16)
	length := g.size * g.in(0.4, 0.65)
	pairs := int(float32(g.count(7, 26)) * clamp(g.detail, 0.5, 1))
	ll := length * g.in(0.1, 0.3)
	lw := min(ll*g.in(0.2, 0.55), 1.6*length/float32(pairs))
	lo := g.outline()
	sink := g.in(0.2, 2) / length
	rise := g.in(0.4, 1.3)
	taper := g.in(0.5, 1.6)
	for i := range n {
		s, c := sincos(float32(i)*2.4 + g.near(0, 0.3))
		el := rise + g.near(0, 0.2)
		se, ce := sincos(el)
		path := bend(vec{g.near(0, 3), 0, g.near(0, 3)}, vec{c * ce, se, s * ce}, length*g.about(1, 0.12), sink, 20)
		g.p.add(tube(path, func(t float32) float32 { return 1.4 - t }, 5, plain(mix(g.f.base, g.f.rib, 0.5), 0.1, 0.1, 0.7, g.Uint32()), leaf))
		mat := g.f.material(g.dice)
		for k := range pairs {
			t := 0.12 + 0.87*float32(k)/float32(pairs)
			at := path[min(19, int(t*19))]
			tan := path[min(19, int(t*19)+1)].sub(path[max(0, int(t*19)-1)]).unit()
			side := tan.cross(vec{0, 1, 0}).unit()
			up := side.cross(tan)
			scale := pow(sin(clamp(pi*(0.18+0.82*t), 0, pi)), taper)
			for _, sg := range []float32{-1, 1} {
				dir := side.mul(sg).add(tan.mul(g.in(0.2, 0.6))).add(up.mul(g.near(-0.05, 0.1)))
				b := blade{length: max(2, ll*scale*g.about(1, 0.08)), width: lw * (0.4 + 0.6*scale), out: lo, fold: 0.1, sink: 0.3 / ll}
				g.p.add(b.draw(foot{at, dir, up}, mat, leaf, 3, g.n(6)))
			}
		}
	}
}

// bush: a hundred small leaves on branching twigs.
func (g *grower) bush() {
	twigs := g.count(8, 24)
	woody := plain(g.wood(), 0.3, 0, 1, g.Uint32())
	ll := g.size * g.in(0.04, 0.13)
	b := g.shape(ll, ll*g.log(0.25, 0.9))
	stalk := g.chance(0.5)
	for range twigs {
		az := g.in(0, 2*pi)
		s, c := sincos(az)
		el := g.in(0.3, 1.5)
		se, ce := sincos(el)
		path := bend(vec{g.near(0, 4), 0, g.near(0, 4)}, vec{c * ce, se, s * ce}, g.size*g.in(0.3, 0.6), g.near(0.001, 0.002), 10)
		class, mat := part, woody
		if stalk {
			class, mat = leaf, plain(g.f.base, 0.1, 0.1, 0.6, 3)
		}
		g.p.add(tube(path, func(t float32) float32 { return 1.8 * (1 - 0.7*t) }, 5, mat, class))
		mat = g.f.material(g.dice)
		for k := range int(float32(g.count(6, 18)) * clamp(g.detail, 0.5, 1)) {
			t := g.in(0.2, 1)
			v := g.vary(b)
			s, c := sincos(g.in(0, 2*pi))
			dir := vec{c, g.in(-0.3, 0.9), s}
			v.phase = float32(k)
			g.p.add(v.draw(foot{path[min(9, int(t*9))], dir, vec{g.near(0, 0.4), 1, g.near(0.2, 0.4)}}, mat, leaf, 3, g.n(7)))
		}
	}
}

// creeper: small leaves close over the medium and over the pot's rim.
func (g *grower) creeper() {
	n := int(float32(g.count(40, 220)) * clamp(g.detail, 0.4, 1))
	ll := clamp(g.size*g.in(0.03, 0.08), 4, 22)
	b := g.shape(ll, ll*g.in(0.5, 1))
	r := g.size * g.in(0.15, 0.33)
	var mats []material
	for range 6 {
		mats = append(mats, g.f.material(g.dice))
	}
	stem := plain(mix(g.f.base, lch(35, 25, 50), 0.4), 0.1, 0.1, 0.8, 5)
	for i := range n {
		s, c := sincos(g.in(0, 2*pi))
		q := r * sqrt(g.Float32()) * g.about(1, 0.1)
		h := g.in(0, 0.25*r) * (1 - q/(2*r))
		if q > 0.9*r {
			h -= g.in(0, 0.4*r)
		}
		at := vec{q * c, h + 2, q * s}
		if i%9 == 0 {
			g.p.add(tube(bend(vec{0.6 * q * c, 0, 0.6 * q * s}, vec{c, 0.5, s}.unit(), 0.5*q+4, 0.01, 6), func(float32) float32 { return 0.8 }, 4, stem, leaf))
		}
		v := g.vary(b)
		v.phase = float32(i)
		grows := foot{at, vec{c + g.near(0, 0.6), g.near(0.2, 0.3), s + g.near(0, 0.6)}, vec{g.near(0, 0.3), 1, g.near(0, 0.3)}}
		g.p.add(v.draw(grows, mats[g.IntN(6)], leaf, 4, 6))
	}
}

// succulent: thick leaves in a close rosette, or round balls.
func (g *grower) succulent() {
	n := g.count(10, 50)
	length := g.size * g.in(0.18, 0.4)
	w := length * g.in(0.2, 0.5)
	th := w * g.in(0.25, 0.8)
	for i := range n {
		t := (float32(i) + 0.5) / float32(n)
		s, c := sincos(float32(i) * 2.4)
		el := 0.1 + 1.3*t + g.near(0, 0.06)
		se, ce := sincos(el)
		l := length * (1 - 0.6*t)
		dir := vec{c * ce, se, s * ce}
		m := g.f.material(g.dice)
		g.p.add(ball(dir.mul(l/2).add(vec{0, 4, 0}), dir, vec{w / 2 * (1 - 0.4*t), l / 2, th / 2}, m, leaf))
	}
}

// palm: fans or feathers of stiff narrow leaflets on long stalks.
func (g *grower) palm() {
	n := g.count(3, 8)
	for i := range n {
		s, c := sincos(float32(i)*2.4 + g.near(0, 0.3))
		el := g.in(0.6, 1.4)
		se, ce := sincos(el)
		path := bend(vec{}, vec{c * ce, se, s * ce}, g.size*g.in(0.3, 0.5), g.in(0, 1.5)/g.size, 10)
		mat := g.f.material(g.dice)
		g.p.add(tube(path, func(float32) float32 { return 1.7 }, 5, plain(g.f.base, 0.1, 0.2, 0.5, 3), leaf))
		end := path[9]
		tan := end.sub(path[8]).unit()
		side := tan.cross(vec{0, 1, 0}).unit()
		up := side.cross(tan)
		k := g.count(7, 20)
		l := g.size * g.in(0.2, 0.35)
		w := l * g.in(0.05, 0.14)
		half := g.in(0.8, 2)
		for j := range k {
			a := half * (2*float32(j)/float32(k-1) - 1)
			sa, ca := sincos(a)
			b := blade{length: l * (1 - 0.2*abs(a)/half), width: w, out: func(t float32) float32 { return pow(sin(pi*(0.12+0.88*t)), 0.8) }, fold: 0.3, sink: g.in(0, 2) / l}
			g.p.add(b.draw(foot{end, tan.mul(ca).add(side.mul(sa)), up}, mat, leaf, 3, g.n(9)))
		}
	}
}

// stalked: broad leaves on long stalks from the ground.
func (g *grower) stalked() {
	n := g.count(4, 22)
	ll := g.size * g.in(0.14, 0.34)
	b := g.shape(ll, ll*g.in(0.5, 1.1))
	b.sink = g.in(0, 1.5) / ll
	for i := range n {
		g.petiole(g.vary(b), vec{g.near(0, 5), 0, g.near(0, 5)}, float32(i)*2.4+g.near(0, 0.3), clamp(g.in(0.5, 1.5), 0, 1.5), g.size*g.in(0.15, 0.4))
	}
}
