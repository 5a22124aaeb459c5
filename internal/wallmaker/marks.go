package wallmaker

import "math"

// marks draws what sits on the wall or belongs to it; some walls are clean.
func (f *face) marks(d dice) {
	some := 1.0
	if d.chance(0.4) || f.manner.ordinary {
		some = 0.3
	}
	for _, draw := range []func(dice){f.slots, f.algae, f.crust, f.seams, f.ribs, f.scratches, f.writing, f.paper, f.dust, f.drops, f.mist} {
		if d.chance(some) {
			draw(d)
		}
	}
	f.plastic(d)
	f.glare(d)
}

// algae: films and spots, mostly green.
func (f *face) algae(d dice) {
	if d.chance(0.55) {
		return
	}
	t := drawnOnce()
	col := d.near(d.in(20, 50), d.in(-34, -6), d.in(14, 40), 3)
	if d.chance(0.2) {
		col = d.near(d.in(15, 45), d.in(0, 14), d.in(10, 30), 3) // brown and red films
	}
	most := d.in(0.25, 0.68) // what is behind shows through, or it does not
	if d.chance(0.3) {
		most = d.in(0.9, 1)
	}
	cell := d.logIn(0.15, 1.2)
	w, g := d.swatch(t.cloud, cell, 0, 1), d.swatch(t.rough, d.in(0.05, 0.2), 0, 1)
	level, soft := d.in(-0.2, 0.7), d.in(0.05, 0.6)
	low := 0.0 // grows up from the base or down from the light's side
	if d.chance(0.4) {
		low = d.in(0, 1.5) / f.tall
	}
	gran := d.in(0, 1)
	for i, u := range f.u {
		if u != u {
			continue
		}
		_, y := f.mm(i%f.w, i/f.w)
		n := float64(w.at(u, y)) + low*(y-f.tall/2)
		q := min(1, max(0, (n-level)/soft)) * most
		if q <= 0.01 {
			continue
		}
		k := float64(g.at(u, y))
		f.film(i, col.times(float32(1+0.3*k)), float32(q*max(0, 1+gran*k)))
	}
	if d.chance(0.5) { // spots
		for range d.between(10, 250) {
			u, y := f.somewhere(d)
			r := d.logIn(0.2, 2.2)
			a := float32(d.in(0.3, 1))
			f.each(u, y, r, r, func(i int, pu, py float64) {
				if m := 1 - math.Hypot(pu-u, py-y)/r; m > 0 {
					f.film(i, col, a*float32(min(1, 2*m)))
				}
			})
		}
	}
}

// crust: lime and salts, in bands and at a water line; and water that stands in the pot.
func (f *face) crust(d dice) {
	t := drawnOnce()
	if d.chance(0.2) {
		at, wide := d.in(0.3, 1)*f.tall, d.logIn(0.6, 12)
		col := d.near(d.in(70, 95), 0, d.in(0, 10), 2)
		w, g := d.swatch(t.cloud, 0.3, 0, 4), d.swatch(t.rough, 0.1, 0, 1)
		most := d.in(0.3, 0.65)
		if d.chance(0.3) {
			most = 1
		}
		for i, u := range f.u {
			if u == u {
				_, y := f.mm(i%f.w, i/f.w)
				q := 1 - math.Abs(y-at-1.5*float64(w.at(u, 0)))/wide
				if q > 0 {
					f.film(i, col, float32(most*q*max(0, 0.6+0.8*float64(g.at(u, y)))))
				}
			}
		}
	}
	if d.chance(0.18) { // water
		at, thick, shine := d.in(0.3, 0.95)*f.tall, d.in(0.3, 0.9), d.in(0.5, 0.9)
		dark := rgb{float32(d.in(0.5, 0.85)), float32(d.in(0.55, 0.9)), float32(d.in(0.5, 0.85))}
		for i, u := range f.u {
			if u != u {
				continue
			}
			_, y := f.mm(i%f.w, i/f.w)
			if y > at {
				f.light[i] = f.light[i].mul(dark)
			}
			if q := math.Abs(y - at); q < thick {
				f.trace(i, rgb{0.8, 0.85, 0.85}, float32(shine*(1-q/thick)), true)
			}
		}
	}
}

// seams: the mould's upright seams, rings, embossed figures.
func (f *face) seams(d dice) {
	line := func(u0, y0, u1, y1, wide float64) {
		bright, a := d.chance(0.7), float32(d.in(0.25, 1))
		col := d.near(d.in(65, 95), 0, 0, 3)
		if !bright {
			col = d.near(d.in(10, 40), 0, 0, 3)
		}
		f.stroke(u0, y0, u1, y1, wide, func(i int, k float32) { f.trace(i, col, k*a, true) })
		if d.chance(0.6) { // its shaded side
			f.stroke(u0+wide*0.8, y0, u1+wide*0.8, y1, wide*0.7, func(i int, k float32) { f.trace(i, rgb{0.05, 0.05, 0.05}, k*a*0.5, true) })
		}
	}
	if d.chance(0.3) {
		for range d.between(1, 2) {
			u, _ := f.somewhere(d)
			line(u, 0, u*d.in(0.85, 1), f.tall, d.logIn(0.3, 1.4))
		}
	}
	if d.chance(0.15) { // a broad raised band, bright on one side and dark on the other
		u, _ := f.somewhere(d)
		lean, wide := u*d.in(-0.05, 0.12), d.in(1.5, 6)
		body, edge := float32(d.in(0.05, 0.6)), d.in(0.2, 0.8)
		col := d.near(d.in(50, 92), 0, 0, 3)
		f.stroke(u, 0, u-lean, f.tall, wide, func(i int, k float32) { f.trace(i, col, k*body, wide < 1.5) })
		for _, side := range [2]float64{-1, 1} {
			ink := d.near(d.in(5, 95), 0, 0, 3)
			b := float32(d.in(0, 0.8))
			at := side * wide / 2
			f.stroke(u+at, 0, u-lean+at, f.tall, edge, func(i int, k float32) { f.trace(i, ink, k*b, true) })
		}
	}
	if d.chance(0.25) { // rings
		for range d.between(1, 4) {
			y := d.in(0, f.tall)
			a := float32(d.in(0.15, 0.8))
			wide := d.logIn(0.3, 1.5)
			col := d.near(d.in(40, 95), 0, 0, 3)
			r := f.radius(y) * 1.5
			f.stroke(-r, y, r, y, wide, func(i int, k float32) { f.trace(i, col, k*a, true) })
		}
	}
	// rim and foot
	for _, y := range [2]float64{d.in(0, 3), f.tall - d.in(0, 3)} {
		a := float32(d.in(0.2, 0.7))
		r := f.radius(y) * 1.5
		f.stroke(-r, y, r, y, d.in(0.5, 4), func(i int, k float32) { f.trace(i, rgb{0.7, 0.72, 0.72}, k*a, false) })
	}
}

// ribs bend what is seen and catch the light.
func (f *face) ribs(d dice) {
	if !d.chance(0.12) {
		return
	}
	upright := d.chance(0.7)
	gap, wide, bend := d.in(5, 25), d.in(0.8, 2.5), d.in(0.2, 1.2)
	shift := d.in(0, gap)
	src := append([]rgb(nil), f.light...)
	cls := append([]uint8(nil), f.class...)
	a := float32(d.in(0.1, 0.6))
	for i, u := range f.u {
		if u != u {
			continue
		}
		x, y := i%f.w, i/f.w
		_, my := f.mm(x, y)
		s := u
		if !upright {
			s = my
		}
		q := math.Mod(s+1000*gap+shift, gap) - gap/2
		if math.Abs(q) > wide {
			continue
		}
		off := int(bend * fine * math.Sin(math.Pi*q/wide))
		j := i
		if upright && x+off >= 0 && x+off < f.w {
			j = i + off
		} else if !upright && y+off >= 0 && y+off < f.h {
			j = i + off*f.w
		}
		if f.u[j] != f.u[j] {
			continue
		}
		f.light[i], f.class[i] = src[j], cls[j]
		if k := 1 - math.Abs(q-wide*0.3)/(0.25*wide); k > 0 {
			f.trace(i, rgb{0.9, 0.9, 0.9}, a*float32(k), true)
		}
		if k := 1 - math.Abs(q+wide*0.5)/(0.3*wide); k > 0 {
			f.trace(i, rgb{0.06, 0.06, 0.06}, 0.5*a*float32(k), true)
		}
	}
}

// scratches: single ones and fields.
func (f *face) scratches(d dice) {
	if d.chance(0.55) {
		return
	}
	n := d.between(2, 12)
	if d.chance(0.5) {
		n = d.between(12, 120)
	}
	lie, spread := d.in(0, math.Pi), d.in(0.1, 3)
	col := d.near(d.in(65, 96), 0, 0, 3)
	if d.chance(0.1) {
		col = d.near(d.in(10, 40), 0, 0, 3)
	}
	for range n {
		u, y := f.somewhere(d)
		dir := lie + spread*d.normal()
		l, wide, a := d.logIn(2, 45), d.logIn(0.1, 0.55), float32(d.in(0.2, 1))
		bend := 0.02 * d.normal()
		for range max(1, int(l/6)) {
			du, dy := 6*math.Cos(dir), 6*math.Sin(dir)
			if l < 6 {
				du, dy = du*l/6, dy*l/6
			}
			b := a * float32(d.in(0.5, 1))
			f.stroke(u, y, u+du, y+dy, wide, func(i int, m float32) { f.trace(i, col, m*b, true) })
			u, y, dir = u+du, y+dy, dir+bend*6
		}
	}
}

// slots and holes with their rims.
func (f *face) slots(d dice) {
	if !d.chance(0.33) {
		return
	}
	tall, wide := d.in(4, 40), d.in(2, 9)
	if d.chance(0.5) {
		wide = d.in(3, 10)
		tall = wide
	}
	gap := wide * d.in(1.6, 4)
	rows := d.between(1, 3)
	y0 := d.in(0.2, 0.9) * f.tall
	rim := d.logIn(0.3, 3.2)
	col := d.near(d.in(35, 92), d.in(-2, 3), d.in(-3, 8), 3)
	a := float32(d.in(0.2, 1))
	rounded := d.chance(0.6) // the rim is a bead, not flat
	scattered := d.chance(0.25)
	inside := float32(d.in(0.35, 1.1))
	turned := d.chance(0.2)
	shadow, bevel := float32(math.Max(0, d.in(-0.3, 0.8))), float32(math.Max(0, d.in(-0.4, 0.6)))
	thick := d.in(0.3, 1.6) // of the wall, mm: its cut throws a shadow and shows a bright edge
	sx, sy := 0.7*d.normal(), -d.Float64()
	for r := range rows {
		y := y0 + float64(r)*(tall+d.in(3, 8))
		for u := -1.5 * f.r0; u < 1.5*f.r0; u += gap {
			cu := u + 0.5*gap*float64(r%2)
			hw, hh := wide/2, tall/2
			y := y
			if scattered {
				if d.chance(0.5) {
					continue
				}
				cu, y = f.somewhere(d)
			}
			if turned {
				hw, hh = hh, hw
			}
			rad := min(hw, hh)
			f.each(cu, y, hw+rim, hh+rim, func(i int, pu, py float64) {
				qx, qy := math.Abs(pu-cu)-(hw-rad), math.Abs(py-y)-(hh-rad)
				dist := math.Hypot(max(0, qx), max(0, qy)) + min(0, max(qx, qy)) - rad
				switch {
				case dist < 0:
					f.light[i] = f.light[i].times(inside)
					if dist > -thick {
						toward := float32(((pu-cu)*sx + (py-y)*sy) / (math.Hypot(pu-cu, py-y)*math.Hypot(sx, sy) + 1e-6))
						k := float32(1 + dist/thick)
						if toward > 0 {
							f.light[i] = f.light[i].times(1 - shadow*toward*min(1, 2*k))
						} else {
							f.trace(i, col, -toward*bevel*k, true)
						}
					}
				case dist < rim:
					k, m := float32(1+0.4*(py-y)/hh), a
					if rounded {
						across := 2*dist/rim - 1 // -1 at the hole, 1 outside
						out := ((pu-cu)*sx + (py-y)*sy) / (math.Hypot(pu-cu, py-y)*math.Hypot(sx, sy) + 1e-6)
						k *= float32(1 + 0.5*across*out)
						m *= float32(math.Sqrt(1 - 0.9*across*across))
					}
					f.trace(i, col.times(k), m, rim < 1.2)
				}
			})
		}
	}
}

// dust: specks, lint, smears of fingers.
func (f *face) dust(d dice) {
	if d.chance(0.4) {
		n := d.between(20, 400)
		col := d.near(d.in(60, 90), 0, d.in(0, 8), 3)
		for range n {
			u, y := f.somewhere(d)
			r, a := d.logIn(0.12, 0.5), float32(d.in(0.2, 0.9))
			f.each(u, y, r, r, func(i int, pu, py float64) {
				if math.Hypot(pu-u, py-y) < r {
					f.film(i, col, a)
				}
			})
		}
	}
	if d.chance(0.2) {
		t := drawnOnce()
		w := d.swatch(t.fibre, 0.15, d.in(0, 3), 6)
		m := d.swatch(t.cloud, 0.4, 0, 1)
		a := float32(d.in(0.05, 0.35))
		for i, u := range f.u {
			if u == u {
				_, y := f.mm(i%f.w, i/f.w)
				f.film(i, rgb{0.75, 0.75, 0.72}, a*max(0, w.at(u, y))*max(0, m.at(u, y)+0.3))
			}
		}
	}
}

// drops of condensation and trickles.
func (f *face) drops(d dice) {
	if d.chance(0.65) {
		return
	}
	n := d.between(20, 700)
	big := d.logIn(0.25, 2)
	patch := d.swatch(drawnOnce().cloud, d.in(0.2, 0.8), 0, 1)
	patchy := d.chance(0.6)
	src := append([]rgb(nil), f.light...)
	lift := float32(d.in(0, 0.3))
	for range n {
		u, y := f.somewhere(d)
		if patchy && patch.at(u, y) < 0.1 {
			continue
		}
		r := big * d.logIn(0.3, 1.8)
		if r < 0.15 {
			r = 0.15
		}
		squash := d.in(0.8, 1.3)
		f.each(u, y, r, r*squash, func(i int, pu, py float64) {
			a, b := (pu-u)/r, (py-y)/r/squash
			q := a*a + b*b
			if q > 1 {
				return
			}
			// a drop shows what is behind it upside down, dark at its edge, with the lamp as a point of light
			x, yy := i%f.w, i/f.w
			jx, jy := x-int(2.2*a*r*fine*0.6), yy-int(2.2*b*r*fine*0.6)
			if jx >= 0 && jy >= 0 && jx < f.w && jy < f.h {
				f.light[i] = src[jy*f.w+jx].times(float32(1.1 - 0.5*q*q + 0.25*b))
			}
			f.light[i] = f.light[i].mix(rgb{0.6, 0.6, 0.6}, lift*float32(1-q))
			if math.Hypot(a+0.3, b+0.4) < 0.22 {
				f.light[i] = rgb{1.1, 1.1, 1.1}
			}
		})
	}
	if d.chance(0.3) {
		for range d.between(1, 12) {
			u, y := f.somewhere(d)
			w := d.in(0.4, 2)
			for y < f.tall {
				f.stroke(u, y, u, y+3, w, func(i int, m float32) { f.light[i] = f.light[i].times(1+m*0.15).mix(rgb{0.7, 0.7, 0.7}, m*0.06) })
				u += 0.2 * d.normal()
				y += 3
				if d.chance(0.06) {
					break
				}
			}
		}
	}
}

// mist that veils parts of the wall.
func (f *face) mist(d dice) {
	if d.chance(0.7) {
		return
	}
	t := drawnOnce()
	w, g := d.swatch(t.cloud, d.in(0.3, 1.2), 0, 1), d.swatch(t.grain, d.in(0.1, 0.3), 0, 1)
	col := d.near(d.in(60, 90), d.in(-2, 2), d.in(-4, 4), 2)
	level, soft, most := d.in(-0.3, 0.7), d.in(0.2, 1), d.in(0.15, 0.65)
	if d.chance(0.2) {
		most = d.in(0.88, 1)
	}
	grainy := d.in(0, 0.8)
	for i, u := range f.u {
		if u == u {
			_, y := f.mm(i%f.w, i/f.w)
			q := min(1, max(0, (float64(w.at(u, y))-level)/soft)) * most
			f.film(i, col, float32(q*max(0, min(1.2, 1+grainy*float64(g.at(u, y))))))
		}
	}
}

// plastic: the wall's own tint and haze.
func (f *face) plastic(d dice) {
	tint := rgb{1, 1, 1}
	if d.chance(0.25) {
		tint = d.near(d.in(70, 96), d.in(-20, 12), d.in(-18, 24), 2)
	}
	haze := float32(0)
	if d.chance(0.4) {
		haze = float32(d.in(0, 0.16))
	}
	milky := d.near(d.in(60, 95), 0, 0, 2)
	for i, u := range f.u {
		if u == u {
			f.light[i] = f.light[i].mul(tint).mix(milky.times(f.white), haze)
		}
	}
}

// glare: windows and lamps mirrored in the wall, more of it the more aslant the wall is seen.
func (f *face) glare(d dice) {
	t := drawnOnce()
	if d.chance(0.7) { // the room, mirrored where the wall is seen aslant
		w, g := d.swatch(t.cloud, d.in(0.1, 0.6), 0, 0.3), d.swatch(t.rough, 0.15, 0, 1)
		a, b := d.near(d.in(20, 90), d.in(-4, 6), d.in(-6, 14), 4), d.near(d.in(10, 80), d.in(-4, 6), d.in(-6, 14), 4)
		strength := d.in(0.3, 1)
		speck := float32(d.in(0, 0.6))
		for i, u := range f.u {
			if u != u {
				continue
			}
			_, y := f.mm(i%f.w, i/f.w)
			cos := math.Cos(u / f.radius(y))
			fresnel := 0.04 + 0.96*math.Pow(1-cos, 5) // Schlick 1994
			if fresnel*strength < 0.05 {
				continue
			}
			col := a.mix(b, min(1, max(0, 0.5+w.at(u*3, y))))
			f.film(i, col, float32(fresnel*strength)*(1+speck*g.at(u*2, y)))
		}
	}
	for d.chance(0.5) { // a window: a band along the wall's own lines
		u, y := f.somewhere(d)
		wide, tall := d.logIn(1.2, 14), d.logIn(8, 90)
		if d.chance(0.6) { // from the rim down
			y = tall/2 - d.in(-1, 5)
		}
		soft, amount := d.logIn(0.1, 2), float32(d.logIn(0.08, 2.2))
		speck := float32(max(0, d.in(-0.5, 1)))
		g := d.swatch(t.grain, d.in(0.08, 0.2), 0, 1)
		bars := 0
		if d.chance(0.35) {
			bars = d.between(1, 3)
		}
		col := d.near(d.in(88, 100), d.in(-3, 3), d.in(-8, 8), 1)
		lean := 0.05 * d.normal()
		f.each(u, y, wide+2*soft+3, tall/2+2*soft, func(i int, pu, py float64) {
			q := min(wide/2-math.Abs(pu-u-lean*(py-y)), tall/2-math.Abs(py-y)) / soft
			if q <= -1 {
				return
			}
			for k := range bars {
				if math.Abs(py-y+tall/2-tall*float64(k+1)/float64(bars+1)) < 0.7 {
					return
				}
			}
			if bars > 0 && math.Abs(pu-u) < 0.4 {
				return
			}
			m := float32(min(1, (q+1)/2))
			f.add(i, col, amount*m*max(0, 1+speck*1.5*g.at(pu, py)))
		})
	}
	if d.chance(0.25) { // lamps
		for range d.between(1, 4) {
			u, y := f.somewhere(d)
			r, amount := d.logIn(0.8, 7), float32(d.in(0.3, 2))
			f.each(u, y, r*2, r*2, func(i int, pu, py float64) {
				q := math.Hypot(pu-u, py-y) / r
				f.add(i, rgb{1, 1, 1}, amount*float32(math.Exp(-2*q*q)))
			})
		}
	}
	f.hide()
}

// hide marks what cannot be seen for what covers it; a speck of dust hides nothing.
func (f *face) hide() {
	clear := softened(f.clear, f.w, f.h, 3, 1)
	for i := range clear {
		if clear[i] < 0.27 && f.u[i] == f.u[i] {
			f.class[i] = Hidden
		}
	}
}
