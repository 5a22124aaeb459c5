package wallmaker

import "math"

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
			f.stroke(stroke{u, y, u + du, y + dy, wide}, func(i int, m float32) { f.trace(i, col, m*b, true) })
			u, y, dir = u+du, y+dy, dir+bend*6
		}
	}
}
