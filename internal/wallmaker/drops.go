package wallmaker

import "math"

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
			f.trickle(d)
		}
	}
}

// trickle is water that runs down.
func (f *face) trickle(d dice) {
	u, y := f.somewhere(d)
	w := d.in(0.4, 2)
	for y < f.tall {
		f.stroke(stroke{u, y, u, y + 3, w}, func(i int, m float32) { f.light[i] = f.light[i].times(1+m*0.15).mix(rgb{0.7, 0.7, 0.7}, m*0.06) })
		u += 0.2 * d.normal()
		y += 3
		if d.chance(0.06) {
			return
		}
	}
}
