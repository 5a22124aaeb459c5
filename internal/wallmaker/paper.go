package wallmaker

import "math"

// paper sticks labels, tape and stickers on the wall, written on by hand or printed.
func (f *face) paper(d dice) {
	if d.chance(0.72) {
		return
	}
	for range d.between(1, 2) {
		u, y := f.somewhere(d)
		hw, hh := d.in(6, 34), d.in(4, 20)
		turn := 0.06 * d.normal()
		if d.chance(0.15) {
			turn = d.normal()
		}
		text := hw
		if d.chance(0.15) { // goes round the pot
			u, y, turn = 0, d.in(0.2, 0.8)*f.tall, 0
			hw, hh, text = 4*f.r0, d.in(0.12, 0.7)*f.tall, 1.4*f.r0
		}
		col := d.near(d.in(78, 97), d.in(-2, 3), d.in(-2, 16), 2)
		if d.chance(0.25) {
			col = d.near(d.in(30, 92), d.in(-50, 50), d.in(-45, 60), 2)
		}
		alpha := float32(1)
		if d.chance(0.12) {
			alpha = float32(d.in(0.25, 0.9)) // clear tape, residue of glue
		}
		round := d.chance(0.12) && text == hw
		sin, cos := math.Sincos(turn)
		tone := d.swatch(drawnOnce().cloud, 0.3, 0, 1)
		stain := float32(math.Max(0, d.in(-0.1, 0.25)))
		torn := d.swatch(drawnOnce().rough, 0.1, 0, 1)
		tear := math.Max(0, d.in(-1, 0.8))
		border := d.chance(0.4)
		ink := d.near(d.in(5, 45), d.in(-20, 40), d.in(-50, 30), 2)
		if d.chance(0.6) {
			ink = d.near(d.in(4, 20), 0, 0, 2)
		}
		out := func(pu, py float64) float64 { // how far inside the border, mm
			a, b := cos*(pu-u)+sin*(py-y), -sin*(pu-u)+cos*(py-y)
			if round {
				return hh - math.Hypot(a, b)
			}
			return math.Min(hw-math.Abs(a), hh-math.Abs(b))
		}
		f.each(u, y, hw+hh, hw+hh, func(i int, pu, py float64) {
			q := out(pu, py) + tear*float64(torn.at(pu, py))
			if q < 0 {
				if q > -0.6 && alpha == 1 { // its shadow on the wall
					f.light[i] = f.light[i].times(0.85)
				}
				return
			}
			k := col.times(1 + stain*tone.at(pu, py))
			if border && q > 0.8 && q < 1.3 {
				k = ink
			}
			f.film(i, k, alpha)
			if alpha > 0.75 {
				f.clear[i] = 0
			}
		})
		if alpha < 0.7 {
			continue
		}
		place := func(a, b float64) (float64, float64) { return u + cos*a - sin*b, y + sin*a + cos*b }
		pen := func(a0, b0, a1, b1, wide float64) {
			u0, y0 := place(a0, b0)
			u1, y1 := place(a1, b1)
			f.stroke(u0, y0, u1, y1, wide, func(i int, m float32) {
				_, my := f.mm(i%f.w, i/f.w)
				if out(f.u[i], my) > 0 {
					f.light[i] = f.light[i].mix(ink.times(f.white), m)
				}
			})
		}
		f.text(d, pen, text, hh)
	}
}

// writing straight on the wall, with a pen.
func (f *face) writing(d dice) {
	if !d.chance(0.08) {
		return
	}
	u, y := f.somewhere(d)
	ink := d.near(d.in(4, 30), d.in(-20, 40), d.in(-50, 20), 2)
	if d.chance(0.3) {
		ink = d.near(d.in(85, 97), 0, 0, 2)
	}
	f.text(d, func(a0, b0, a1, b1, wide float64) {
		f.stroke(u+a0, y+b0, u+a1, y+b1, wide, func(i int, m float32) { f.trace(i, ink, m, wide < 1.2) })
	}, d.in(8, 30), d.in(4, 12))
}

// text fills a field with handwriting, or with print, lines and bars.
func (f *face) text(d dice, pen func(a0, b0, a1, b1, wide float64), hw, hh float64) {
	rows := d.between(1, 4)
	tall := hh * 2 / float64(rows+1)
	wide := d.logIn(0.2, math.Max(0.3, 0.18*tall))
	if d.chance(0.15) { // bars
		for a := -hw * 0.8; a < hw*0.8; a += d.in(0.4, 1.6) {
			pen(a, -hh*0.6, a, hh*0.4, d.logIn(0.2, 0.9))
		}
		return
	}
	print := d.chance(0.4)
	for r := range rows {
		b := -hh + tall*(float64(r)+1)
		a := -hw * d.in(0.7, 0.9)
		end := hw * d.in(-0.2, 0.9)
		if print {
			for a < end {
				w := tall * d.in(0.15, 0.4)
				switch d.IntN(4) {
				case 0:
					pen(a, b-tall*0.3, a, b+tall*0.3, wide)
				case 1:
					pen(a, b-tall*0.3, a, b+tall*0.3, wide)
					pen(a, b-tall*0.3, a+w, b-tall*0.3, wide)
				case 2:
					pen(a, b+tall*0.3, a+w/2, b-tall*0.3, wide)
					pen(a+w/2, b-tall*0.3, a+w, b+tall*0.3, wide)
				default:
					pen(a, b+tall*0.3, a+w, b+tall*0.3, wide)
					pen(a+w, b-tall*0.3, a+w, b+tall*0.3, wide)
				}
				a += w + tall*0.2
				if d.chance(0.15) {
					a += tall * 0.5
				}
			}
			continue
		}
		phase, px, py := 0.0, a, b
		for a < end { // loops of a hand
			phase += d.in(0.5, 1.1)
			a += tall * d.in(0.02, 0.12)
			h := tall * 0.18
			if d.chance(0.12) {
				h = tall * 0.4
			}
			nx, ny := a+tall*0.1*math.Cos(phase*1.3), b+h*math.Sin(phase)
			pen(px, py, nx, ny, wide)
			px, py = nx, ny
			if d.chance(0.05) {
				a += tall * 0.5
				px, py = a, b
			}
		}
	}
}
