package wallmaker

import "math"

// label is paper, tape or a sticker on the wall.
type label struct {
	u, y, hw, hh float64 // middle and half sizes, mm
	sin, cos     float64 // of its turn
	round        bool
	col, ink     rgb
	alpha        float32 // 1: nothing shows through
	stain        float32
	tear         float64
	border       bool
	text         float64 // half width of what is written on it
}

// inside is how far a place lies within the label's edge, mm.
func (l *label) inside(pu, py float64) float64 {
	a, b := l.cos*(pu-l.u)+l.sin*(py-l.y), -l.sin*(pu-l.u)+l.cos*(py-l.y)
	if l.round {
		return l.hh - math.Hypot(a, b)
	}
	return math.Min(l.hw-math.Abs(a), l.hh-math.Abs(b))
}

// paper sticks labels, tape and stickers on the wall, written on by hand or printed.
func (f *face) paper(d dice) {
	if d.chance(0.72) {
		return
	}
	for range d.between(1, 2) {
		l, tone, torn := f.label(d)
		f.stick(&l, tone, torn)
		if l.alpha < 0.7 {
			continue
		}
		pen := func(a0, b0, a1, b1, wide float64) {
			u0, y0 := l.u+l.cos*a0-l.sin*b0, l.y+l.sin*a0+l.cos*b0
			u1, y1 := l.u+l.cos*a1-l.sin*b1, l.y+l.sin*a1+l.cos*b1
			f.stroke(stroke{u0, y0, u1, y1, wide}, func(i int, m float32) {
				_, my := f.mm(i%f.w, i/f.w)
				if l.inside(f.u[i], my) > 0 {
					f.light[i] = f.light[i].mix(l.ink.times(f.white), m)
				}
			})
		}
		f.text(d, pen, l.text, l.hh)
	}
}

// label draws how a label looks; tone and torn are the unevenness of its colour and its edge.
func (f *face) label(d dice) (l label, tone, torn swatch) {
	l.u, l.y = f.somewhere(d)
	l.hw, l.hh = d.in(6, 34), d.in(4, 20)
	turn := 0.06 * d.normal()
	if d.chance(0.15) {
		turn = d.normal()
	}
	l.text = l.hw
	if d.chance(0.15) { // goes round the pot
		l.u, l.y, turn = 0, d.in(0.2, 0.8)*f.tall, 0
		l.hw, l.hh, l.text = 4*f.r0, d.in(0.12, 0.7)*f.tall, 1.4*f.r0
	}
	l.col = d.near(d.in(78, 97), d.in(-2, 3), d.in(-2, 16), 2)
	if d.chance(0.25) {
		l.col = d.near(d.in(30, 92), d.in(-50, 50), d.in(-45, 60), 2)
	}
	l.alpha = 1
	if d.chance(0.12) {
		l.alpha = float32(d.in(0.25, 0.9)) // clear tape, residue of glue
	}
	l.round = d.chance(0.12) && l.text == l.hw
	l.sin, l.cos = math.Sincos(turn)
	tone = d.swatch(drawnOnce().cloud, 0.3, 0, 1)
	l.stain = float32(math.Max(0, d.in(-0.1, 0.25)))
	torn = d.swatch(drawnOnce().rough, 0.1, 0, 1)
	l.tear = math.Max(0, d.in(-1, 0.8))
	l.border = d.chance(0.4)
	l.ink = d.near(d.in(5, 45), d.in(-20, 40), d.in(-50, 30), 2)
	if d.chance(0.6) {
		l.ink = d.near(d.in(4, 20), 0, 0, 2)
	}
	return l, tone, torn
}

// stick puts a label on the wall.
func (f *face) stick(l *label, tone, torn swatch) {
	f.each(l.u, l.y, l.hw+l.hh, l.hw+l.hh, func(i int, pu, py float64) {
		q := l.inside(pu, py) + l.tear*float64(torn.at(pu, py))
		if q < 0 {
			if q > -0.6 && l.alpha == 1 { // its shadow on the wall
				f.light[i] = f.light[i].times(0.85)
			}
			return
		}
		k := l.col.times(1 + l.stain*tone.at(pu, py))
		if l.border && q > 0.8 && q < 1.3 {
			k = l.ink
		}
		f.film(i, k, l.alpha)
		if l.alpha > 0.75 {
			f.clear[i] = 0
		}
	})
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
		f.stroke(stroke{u + a0, y + b0, u + a1, y + b1, wide}, func(i int, m float32) { f.trace(i, ink, m, wide < 1.2) })
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
	row := line{pen, tall, wide}
	write := row.hand
	if d.chance(0.4) {
		write = row.print
	}
	for r := range rows {
		b := -hh + tall*(float64(r)+1)
		a := -hw * d.in(0.7, 0.9)
		write(d, a, b, hw*d.in(-0.2, 0.9))
	}
}

// line is how a line of text is written: with which pen, how tall and how thick.
type line struct {
	pen        func(a0, b0, a1, b1, wide float64)
	tall, wide float64
}

// print writes letters of straight strokes from a to end.
func (l line) print(d dice, a, b, end float64) {
	up, down := b-l.tall*0.3, b+l.tall*0.3
	for a < end {
		w := l.tall * d.in(0.15, 0.4)
		switch d.IntN(4) {
		case 0:
			l.pen(a, up, a, down, l.wide)
		case 1:
			l.pen(a, up, a, down, l.wide)
			l.pen(a, up, a+w, up, l.wide)
		case 2:
			l.pen(a, down, a+w/2, up, l.wide)
			l.pen(a+w/2, up, a+w, down, l.wide)
		default:
			l.pen(a, down, a+w, down, l.wide)
			l.pen(a+w, up, a+w, down, l.wide)
		}
		a += w + l.tall*0.2
		if d.chance(0.15) {
			a += l.tall * 0.5
		}
	}
}

// hand writes loops from a to end.
func (l line) hand(d dice, a, b, end float64) {
	phase, px, py := 0.0, a, b
	for a < end {
		phase += d.in(0.5, 1.1)
		a += l.tall * d.in(0.02, 0.12)
		h := l.tall * 0.18
		if d.chance(0.12) {
			h = l.tall * 0.4
		}
		nx, ny := a+l.tall*0.1*math.Cos(phase*1.3), b+h*math.Sin(phase)
		l.pen(px, py, nx, ny, l.wide)
		px, py = nx, ny
		if d.chance(0.05) {
			a += l.tall * 0.5
			px, py = a, b
		}
	}
}
