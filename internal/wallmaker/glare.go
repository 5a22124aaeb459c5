package wallmaker

import "math"

// glare: windows and lamps mirrored in the wall, more of it the more aslant the wall is seen.
func (f *face) glare(d dice) {
	t := drawnOnce()
	if d.chance(0.7) {
		f.room(d, t)
	}
	for d.chance(0.5) {
		f.window(d, t)
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

// room is mirrored where the wall is seen aslant.
func (f *face) room(d dice, t *textures) {
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

// window is a band along the wall's own lines, with or without bars.
func (f *face) window(d dice, t *textures) {
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
	barred := func(pu, py float64) bool {
		for k := range bars {
			if math.Abs(py-y+tall/2-tall*float64(k+1)/float64(bars+1)) < 0.7 {
				return true
			}
		}
		return bars > 0 && math.Abs(pu-u) < 0.4
	}
	f.each(u, y, wide+2*soft+3, tall/2+2*soft, func(i int, pu, py float64) {
		q := min(wide/2-math.Abs(pu-u-lean*(py-y)), tall/2-math.Abs(py-y)) / soft
		if q <= -1 || barred(pu, py) {
			return
		}
		m := float32(min(1, (q+1)/2))
		f.add(i, col, amount*m*max(0, 1+speck*1.5*g.at(pu, py)))
	})
}
