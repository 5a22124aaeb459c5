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
	seed := d.Uint32()
	c := d.anyColour()
	gloss, rough := d.in(0, 0.15), float32(1)
	kind := d.pick(3, 3, 2, 1.4, 1)
	c2 := d.anyColour()
	switch kind {
	case 0: // clay, with salts and damp
		c = lch(d.in(38, 66), d.in(20, 46), d.in(42, 62))
		c2 = mix(c, lch(d.in(70, 92), 5, 80), 0.7)
	case 1: // glazed or plastic
		gloss, rough = d.in(0.2, 1), d.in(0.1, 0.5)
	case 2: // white, grey, black
		c = lch(d.in(6, 95), d.in(0, 4), 90)
		gloss, rough = d.in(0, 0.8), d.in(0.2, 0.9)
	}
	pattern := d.pick(4, 2, 1, 1, 1)
	if kind == 0 && d.chance(0.6) {
		pattern = 1
	}
	freq := float32(d.count(4, 24))
	clear := d.medium()
	mat := func(u, v float32, at vec) look {
		k := c
		switch pattern {
		case 1:
			k = mix(c, c2, smooth(0.5, 0.75, fbm(u*6, v*5, 4, seed)))
		case 2:
			k = mix(c, c2, smooth(-0.1, 0.1, sin(v*freq*pi)))
		case 3:
			k = mix(c, c2, smooth(-0.1, 0.1, sin(u*freq*2*pi)))
		case 4:
			d1, _, _ := cells(u*freq, v*freq*0.5, seed)
			k = mix(c, c2, smooth(0.3, 0.25, d1))
		}
		k = k.mul(0.9 + 0.2*fbm(u*20, v*14, 3, seed+1))
		if kind == 4 && v > 0.2 { // clear: the medium through the wall
			k = clear(u*2*pi*rim, v*h, at).albedo.mul(0.8).add(rgb{0.03, 0.03, 0.03})
			return look{albedo: k, gloss: 0.8, rough: 0.15}
		}
		return look{albedo: k, gloss: gloss, rough: rough}
	}
	if kind == 4 {
		gloss = 0.6
	}
	o.m = append(o.m, lathe(vec{}, pr, 40, mat, pot))
	if d.chance(0.25) { // saucer
		r := base * d.in(1.05, 1.5)
		sm := plain(mix(c, d.anyColour(), d.in(0, 1)), 0.1, gloss, rough, seed)
		o.m = append(o.m, lathe(vec{}, [][2]float32{{r * 0.8, 0.3}, {r, 6}, {r, d.in(8, 18)}, {r - 3, 9}, {0, 3}}, 36, sm, pot))
	}
	// The medium's surface, and lumps of it.
	med := d.medium()
	rr := rim - wall
	hgt := d.in(0, 5)
	surface := lathe(vec{0, o.medium, 0}, [][2]float32{{rr, 0}, {rr * 0.75, hgt * 0.5}, {rr * 0.5, hgt}, {rr * 0.25, hgt}, {0, hgt}}, 30, func(u, v float32, at vec) look { return med(at[0], at[2], at) }, pot)
	o.m = append(o.m, surface)
	if d.chance(0.6) {
		lump := d.in(2, 9)
		for range d.count(20, 90) {
			s, co := sincos(d.in(0, 2*pi))
			q := rr * 0.93 * sqrt(d.Float32())
			at := vec{q * co, o.medium + hgt*(1-q/rr), q * s}
			k := med(at[0]*3.7, at[2]*3.1, at).albedo.mul(d.about(1, 0.25))
			o.m = append(o.m, ball(at, vec{d.near(0, 1), d.near(0, 0.5), d.near(0, 1)}, vec{lump * d.in(0.4, 1), lump * d.in(0.6, 1.6), lump * d.in(0.3, 0.7)}, plain(k, 0.3, 0.05, 1, d.Uint32()), pot))
		}
	}
	return
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
