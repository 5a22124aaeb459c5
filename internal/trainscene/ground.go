package trainscene

// surface is a material for something broad, whose u and v are mm: walls, boards, cloths, floors.
func (d dice) surface() material {
	switch d.pick(2, 2.4, 1.4, 1.6, 1.5, 1.2, 1, 1, 1.2, 1) {
	case 0:
		return d.plaster()
	case 1:
		return d.boards()
	case 2:
		return d.bricks()
	case 3:
		return d.checks()
	case 4:
		return d.printed()
	case 5:
		return d.weave()
	case 6:
		return d.pebbles()
	case 7:
		return d.soil()
	case 8:
		return d.slabs()
	}
	return d.mottled()
}

func (d dice) plaster() material {
	c := d.anyColour()
	seed, size, depth := d.Uint32(), d.log(8, 250), d.in(0, 0.25)
	fineness := d.in(0, 0.12)
	return func(u, v float32, at vec) look {
		return look{albedo: c.mul(1 + depth*2*(fbm(u/size, v/size, 4, seed)-0.5) + fineness*2*(noise(u/1.5, v/1.5, seed+3)-0.5)), gloss: 0.03, rough: 1}
	}
}

func (d dice) mottled() material {
	c, c2 := d.anyColour(), d.anyColour()
	seed, size := d.Uint32(), d.log(4, 90)
	oct := d.count(2, 5)
	w := d.in(0.03, 0.3)
	return func(u, v float32, at vec) look {
		return look{albedo: mix(c, c2, smooth(0.5-w, 0.5+w, fbm(u/size, v/size, oct, seed))), gloss: 0.05, rough: 1}
	}
}

func (d dice) boards() material {
	c := d.wood()
	if d.chance(0.25) {
		c = d.anyColour() // painted
	}
	dark := c.mul(d.in(0.35, 0.85))
	seed, wide := d.Uint32(), d.log(25, 220)
	gap := d.in(0.3, 4)
	along := d.chance(0.5)
	grain := d.in(0.15, 1)
	gloss, rough := d.in(0, 0.4), d.in(0.25, 1)
	return func(u, v float32, at vec) look {
		if along {
			u, v = v, u
		}
		b := floor(v / wide)
		tone := 0.8 + 0.4*hash2(int32(b), 3, seed)
		g := fbm(u/90+b*17, v/2.2+3*fbm(u/160, v/30, 2, seed+2), 4, seed+1)
		k := mix(c, dark, clamp(grain*(g-0.3)*1.8, 0, 1)).mul(tone)
		if q := v - b*wide; q < gap {
			k = k.mul(0.25)
		}
		return look{albedo: k, gloss: gloss, rough: rough}
	}
}

func (d dice) bricks() material {
	c, m := lch(d.in(25, 80), d.in(2, 40), d.in(30, 80)), lch(d.in(40, 88), d.in(0, 8), 80)
	if d.chance(0.3) {
		c = d.anyColour()
	}
	seed, w, h, j := d.Uint32(), d.log(50, 260), d.log(20, 90), d.in(1, 12)
	return func(u, v float32, at vec) look {
		r := floor(v / h)
		x := u + float32(int32(r)&1)*w/2
		b := floor(x / w)
		n := fbm(u/6, v/6, 4, seed)
		k := c.mul(0.7 + 0.4*hash2(int32(b), int32(r), seed) + 0.5*(n-0.5))
		if x-b*w < j || v-r*h < j {
			k = m.mul(0.8 + 0.4*n)
		}
		return look{albedo: k, rough: 1}
	}
}

func (d dice) checks() material {
	c, c2 := d.anyColour(), d.anyColour()
	if d.chance(0.4) {
		c2 = lch(d.in(80, 96), d.in(0, 5), 90)
	}
	if d.chance(0.4) {
		c = d.green()
	}
	size := d.log(5, 60)
	both := d.chance(0.6)
	seed := d.Uint32()
	hard := d.chance(0.5)
	return func(u, v float32, at vec) look {
		a, b := sin(u*pi/size), sin(v*pi/size)
		t := smooth(-0.06, 0.06, a)
		if both {
			t = 0.5*smooth(-0.06, 0.06, a) + 0.5*smooth(-0.06, 0.06, b)
			if hard {
				t = smooth(-0.05, 0.05, a*b)
			}
		}
		w := 0.9 + 0.1*sin(u*2.5)*sin(v*2.5) + 0.1*(noise(u/2, v/2, seed)-0.5)
		return look{albedo: mix(c, c2, t).mul(w), rough: 1}
	}
}

// printed is a cloth or paper printed with leaves, flowers or dots, which are no leaves.
func (d dice) printed() material {
	c := d.anyColour()
	if d.chance(0.5) {
		c = lch(d.in(75, 96), d.in(0, 14), d.in(60, 120))
	}
	c1, c2 := d.leafColour(), d.petal()
	seed, size := d.Uint32(), d.log(8, 70)
	long := d.in(1, 4)
	dense := d.in(0.4, 1)
	vein := d.chance(0.5)
	return func(u, v float32, at vec) look {
		k := c
		x, y := u/size, v/size
		ix, iy := int32(floor(x)), int32(floor(y))
		for j := iy - 1; j <= iy+1; j++ {
			for i := ix - 1; i <= ix+1; i++ {
				if hash2(i, j, seed+4) > dense {
					continue
				}
				px, py := float32(i)+hash2(i, j, seed), float32(j)+hash2(i, j, seed+1)
				s, co := sincos(hash2(i, j, seed+2) * 2 * pi)
				dx, dy := x-px, y-py
				a, b := dx*co+dy*s, (dy*co-dx*s)*long
				if q := a*a + b*b; q < 0.2 {
					k = mix(c1, c2, smooth(0.55, 0.65, hash2(i, j, seed+3)))
					if vein && abs(b) < 0.06*long {
						k = k.mul(1.4)
					}
					k = k.mul(1.1 - 1.2*q)
				}
			}
		}
		w := 0.93 + 0.07*sin(u*3)*sin(v*3)
		return look{albedo: k.mul(w), rough: 1}
	}
}

func (d dice) weave() material {
	c := d.anyColour()
	if d.chance(0.3) {
		c = d.green()
	}
	size, depth := d.log(0.7, 9), d.in(0.05, 0.5)
	seed := d.Uint32()
	return func(u, v float32, at vec) look {
		a, b := sin(u*pi/size), sin(v*pi/size)
		t := 1 - depth*(0.5+0.5*a*b) + 0.3*depth*(fbm(u/size, v/size/5, 3, seed)-0.5)
		return look{albedo: c.mul(t * (0.9 + 0.2*fbm(u/140, v/140, 2, seed+1))), rough: 1}
	}
}

func (d dice) pebbles() material {
	seed, size := d.Uint32(), d.log(3, 28)
	c, c2 := lch(d.in(20, 90), d.in(0, 16), d.in(30, 110)), lch(d.in(20, 90), d.in(0, 16), d.in(30, 110))
	return func(u, v float32, at vec) look {
		d1, d2, id := cells(u/size, v/size, seed)
		e := smooth(0, 0.3, d2-d1)
		return look{albedo: mix(c, c2, id).mul((0.2 + 0.8*e) * (0.8 + 0.4*noise(u/size*4, v/size*4, seed+1))), rough: 1}
	}
}

func (d dice) soil() material {
	m := d.medium()
	return func(u, v float32, at vec) look { return m(u, v, at) }
}

func (d dice) slabs() material {
	c := lch(d.in(25, 80), d.in(0, 14), d.in(40, 100))
	seed, w, j := d.Uint32(), d.log(60, 500), d.in(1, 10)
	return func(u, v float32, at vec) look {
		bx, by := floor(u/w), floor(v/w)
		n := fbm(u/7, v/7, 5, seed)
		k := c.mul(0.75 + 0.2*hash2(int32(bx), int32(by), seed) + 0.6*(n-0.5))
		if u-bx*w < j || v-by*w < j {
			k = k.mul(0.5)
		}
		return look{albedo: k, gloss: 0.05, rough: 0.8}
	}
}
