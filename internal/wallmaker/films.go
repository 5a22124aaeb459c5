package wallmaker

import "math"

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
	if d.chance(0.2) {
		f.lime(d)
	}
	if d.chance(0.18) {
		f.water(d)
	}
}

// lime is one band of it.
func (f *face) lime(d dice) {
	t := drawnOnce()
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

// water darkens what stands in it, and shines at its line.
func (f *face) water(d dice) {
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
