package wallmaker

import "math"

// seams: the mould's upright seams, rings, embossed figures.
func (f *face) seams(d dice) {
	line := func(u0, y0, u1, y1, wide float64) {
		bright, a := d.chance(0.7), float32(d.in(0.25, 1))
		col := d.near(d.in(65, 95), 0, 0, 3)
		if !bright {
			col = d.near(d.in(10, 40), 0, 0, 3)
		}
		f.stroke(stroke{u0, y0, u1, y1, wide}, func(i int, k float32) { f.trace(i, col, k*a, true) })
		if d.chance(0.6) { // its shaded side
			f.stroke(stroke{u0 + wide*0.8, y0, u1 + wide*0.8, y1, wide * 0.7}, func(i int, k float32) { f.trace(i, rgb{0.05, 0.05, 0.05}, k*a*0.5, true) })
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
		f.stroke(stroke{u, 0, u - lean, f.tall, wide}, func(i int, k float32) { f.trace(i, col, k*body, wide < 1.5) })
		for _, side := range [2]float64{-1, 1} {
			ink := d.near(d.in(5, 95), 0, 0, 3)
			b := float32(d.in(0, 0.8))
			at := side * wide / 2
			f.stroke(stroke{u + at, 0, u - lean + at, f.tall, edge}, func(i int, k float32) { f.trace(i, ink, k*b, true) })
		}
	}
	if d.chance(0.25) { // rings
		for range d.between(1, 4) {
			y := d.in(0, f.tall)
			a := float32(d.in(0.15, 0.8))
			wide := d.logIn(0.3, 1.5)
			col := d.near(d.in(40, 95), 0, 0, 3)
			r := f.radius(y) * 1.5
			f.stroke(stroke{-r, y, r, y, wide}, func(i int, k float32) { f.trace(i, col, k*a, true) })
		}
	}
	// rim and foot
	for _, y := range [2]float64{d.in(0, 3), f.tall - d.in(0, 3)} {
		a := float32(d.in(0.2, 0.7))
		r := f.radius(y) * 1.5
		f.stroke(stroke{-r, y, r, y, d.in(0.5, 4)}, func(i int, k float32) { f.trace(i, rgb{0.7, 0.72, 0.72}, k*a, false) })
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
