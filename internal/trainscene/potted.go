package trainscene

// vessel is a pot standing on the ground at y = 0.
type vessel struct {
	m            []*mesh
	height, rim  float32 // rim: radius at the top
	medium       float32 // height of the medium's surface
	front, slope float32 // radius and its growth a mm of height at the front, for the tag
}

// vesselOf draws a pot with what lies in it.
func (d dice) vesselOf(rim float32) (o vessel) {
	h := rim * d.in(0.7, 2.1)
	base := rim * d.in(0.55, 1)
	o.rim, o.height = rim, h
	lip := d.in(0, 0.12) * rim
	lipH := d.in(0.06, 0.25) * h
	belly := d.in(-0.1, 0.35) * rim
	if d.chance(0.6) {
		belly = 0
	}
	pr := [][2]float32{}
	for i := range 12 {
		t := float32(i) / 11
		pr = append(pr, [2]float32{base + (rim-base)*t + belly*sin(pi*t), t * (h - lipH)})
	}
	wall := d.in(1.5, 6)
	pr = append(pr, [2]float32{rim + lip, h - lipH + 0.5}, [2]float32{rim + lip, h - 1}, [2]float32{rim + lip - 1, h}, [2]float32{rim - wall, h}, [2]float32{rim - wall - 1, h - 3}, [2]float32{rim - wall - 2, h * 0.6})
	o.front, o.slope = base, (rim-base)/max(1, h-lipH)
	o.medium = h - d.in(0.02, 0.2)*h
	g := d.glaze()
	g.rim, g.height = rim, h
	o.m = append(o.m, lathe(vec{}, pr, 40, g.look, pot))
	if d.chance(0.25) { // saucer
		r := base * d.in(1.05, 1.5)
		sm := plain(mix(g.c, d.anyColour(), d.in(0, 1)), 0.1, g.gloss, g.rough, g.seed)
		o.m = append(o.m, lathe(vec{}, [][2]float32{{r * 0.8, 0.3}, {r, 6}, {r, d.in(8, 18)}, {r - 3, 9}, {0, 3}}, 36, sm, pot))
	}
	o.m = append(o.m, d.filling(rim-wall, o.medium)...)
	return
}

// Kinds of pots.
const (
	clayPot = iota
	glazedPot
	greyPot
	otherPot
	clearPot
)

// glaze is what a pot's outside looks like.
type glaze struct {
	kind, pattern int
	c, c2         rgb
	gloss, rough  float32
	freq          float32
	seed          uint32
	clear         material // what is seen through a clear pot
	rim, height   float32
}

func (d dice) glaze() (g glaze) {
	g.seed = d.Uint32()
	g.c = d.anyColour()
	g.gloss, g.rough = d.in(0, 0.15), 1
	g.kind = d.pick(3, 3, 2, 1.4, 1)
	g.c2 = d.anyColour()
	switch g.kind {
	case clayPot: // with salts and damp
		g.c = lch(d.in(38, 66), d.in(20, 46), d.in(42, 62))
		g.c2 = mix(g.c, lch(d.in(70, 92), 5, 80), 0.7)
	case glazedPot: // or plastic
		g.gloss, g.rough = d.in(0.2, 1), d.in(0.1, 0.5)
	case greyPot: // white, grey, black
		g.c = lch(d.in(6, 95), d.in(0, 4), 90)
		g.gloss, g.rough = d.in(0, 0.8), d.in(0.2, 0.9)
	case clearPot:
		g.gloss = 0.6
	}
	g.pattern = d.pick(4, 2, 1, 1, 1)
	if g.kind == clayPot && d.chance(0.6) {
		g.pattern = 1
	}
	g.freq = float32(d.count(4, 24))
	g.clear = d.medium()
	return g
}

// look is that of a place of the pot, u round it and v up.
func (g *glaze) look(u, v float32, at vec) look {
	k := g.c
	switch g.pattern {
	case 1:
		k = mix(k, g.c2, smooth(0.5, 0.75, fbm(u*6, v*5, 4, g.seed)))
	case 2:
		k = mix(k, g.c2, smooth(-0.1, 0.1, sin(v*g.freq*pi)))
	case 3:
		k = mix(k, g.c2, smooth(-0.1, 0.1, sin(u*g.freq*2*pi)))
	case 4:
		d1, _, _ := cells(u*g.freq, v*g.freq*0.5, g.seed)
		k = mix(k, g.c2, smooth(0.3, 0.25, d1))
	}
	k = k.mul(0.9 + 0.2*fbm(u*20, v*14, 3, g.seed+1))
	if g.kind == clearPot && v > 0.2 { // the medium through the wall
		k = g.clear(u*2*pi*g.rim, v*g.height, at).albedo.mul(0.8).add(rgb{0.03, 0.03, 0.03})
		return look{albedo: k, gloss: 0.8, rough: 0.15}
	}
	return look{albedo: k, gloss: g.gloss, rough: g.rough}
}

// filling is the medium's surface, of radius r at the given height, and lumps of it.
func (d dice) filling(r, height float32) (m []*mesh) {
	med := d.medium()
	hgt := d.in(0, 5)
	m = append(m, lathe(vec{0, height, 0}, [][2]float32{{r, 0}, {r * 0.75, hgt * 0.5}, {r * 0.5, hgt}, {r * 0.25, hgt}, {0, hgt}}, 30, func(u, v float32, at vec) look { return med(at[0], at[2], at) }, pot))
	if !d.chance(0.6) {
		return m
	}
	lump := d.in(2, 9)
	for range d.count(20, 90) {
		s, co := sincos(d.in(0, 2*pi))
		q := r * 0.93 * sqrt(d.Float32())
		at := vec{q * co, height + hgt*(1-q/r), q * s}
		k := med(at[0]*3.7, at[2]*3.1, at).albedo.mul(d.about(1, 0.25))
		m = append(m, ball(at, vec{d.near(0, 1), d.near(0, 0.5), d.near(0, 1)}, vec{lump * d.in(0.4, 1), lump * d.in(0.6, 1.6), lump * d.in(0.3, 0.7)}, plain(k, 0.3, 0.05, 1, d.Uint32()), pot))
	}
	return m
}

// medium is what a plant stands in: x and y in mm.
func (d dice) medium() material {
	a := d.oneMedium()
	if !d.chance(0.3) {
		return a
	}
	b := d.oneMedium() // moss on bark, say
	seed, size, share := d.Uint32(), d.log(6, 60), d.in(0.35, 0.65)
	return func(x, y float32, at vec) look {
		if fbm(x/size, y/size, 3, seed) > share {
			return b(x, y, at)
		}
		return a(x, y, at)
	}
}

func (d dice) oneMedium() material {
	seed := d.Uint32()
	size := d.log(1.5, 16)
	c, c2 := d.wood(), d.wood()
	switch d.pick(4, 2, 2, 1.2, 1) {
	case 1: // soil
		c, c2 = lch(d.in(6, 25), d.in(3, 14), d.in(45, 80)), lch(d.in(12, 40), d.in(4, 18), d.in(45, 80))
		size = d.log(0.8, 3)
	case 2: // moss
		c, c2 = lch(d.in(25, 60), d.in(18, 50), d.in(100, 128)), lch(d.in(12, 40), d.in(10, 35), d.in(80, 125))
		size = d.log(0.6, 3)
	case 3: // stones
		c, c2 = lch(d.in(25, 85), d.in(0, 10), d.in(0, 360)), lch(d.in(25, 85), d.in(0, 10), d.in(0, 360))
	case 4: // clay balls
		c, c2 = lch(d.in(30, 55), d.in(15, 38), d.in(40, 60)), lch(d.in(20, 50), d.in(10, 30), d.in(40, 65))
	}
	perlite := d.in(-0.5, 0.25)
	return func(x, y float32, at vec) look {
		d1, d2, id := cells(x/size, y/size*1.3, seed)
		edge := smooth(0, 0.35, d2-d1)
		k := mix(c, c2, id).mul((0.35 + 0.65*edge) * (0.7 + 0.6*fbm(x/size*2.5, y/size*2.5, 3, seed+1)))
		if perlite > 0 {
			p1, _, pid := cells(x/3.5, y/3.5, seed+9)
			if pid < perlite && p1 < 0.35 {
				k = rgb{0.8, 0.8, 0.76}
			}
		}
		return look{albedo: k, rough: 1}
	}
}
