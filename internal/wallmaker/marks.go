package wallmaker

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

// hide marks what cannot be seen for what covers it; a speck of dust hides nothing.
func (f *face) hide() {
	clear := softened(f.clear, f.w, f.h, 3, 1)
	for i := range clear {
		if clear[i] < 0.27 && f.u[i] == f.u[i] {
			f.class[i] = Hidden
		}
	}
}
