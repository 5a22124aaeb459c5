package plate

import "math"

// A panel shows a window: an upright rectangle of the plane, mm from the anchors, the same for all panels of a plate. It
// holds all plants, lies within all photos where that leaves the plants whole, and shows each card and tag whole or not
// at all. Where one photo does not reach as far as the plants of the others, its panel alone is smaller.

// quad is the outline of a frame's picture, mm from its anchor: top left, top right, bottom right, bottom left.
func (f *Frame) quad() (q [4]Point, ok bool) {
	inv, ok := invert(f.ToPx)
	if !ok {
		return q, false
	}
	w, h := float64(f.Image.Bounds().Dx())-1, float64(f.Image.Bounds().Dy())-1
	for i, p := range [4]Point{{0, 0}, {w, 0}, {w, h}, {0, h}} {
		m := apply(inv, p)
		q[i] = Point{m.X - f.Anchor.X, m.Y - f.Anchor.Y}
	}
	return q, q[0].X < q[1].X && q[3].X < q[2].X && q[0].Y < q[3].Y && q[1].Y < q[2].Y
}

// at is where the line from a to b is at a height y (or, with across, at a place x).
func at(a, b Point, v float64, across bool) float64 {
	if across {
		a, b = Point{a.Y, a.X}, Point{b.Y, b.X}
	}
	if b.Y == a.Y {
		return a.X
	}
	t := min(max((v-a.Y)/(b.Y-a.Y), 0), 1)
	return a.X + t*(b.X-a.X)
}

// within moves the sides of a box inwards until it lies in the frame's picture. Sides that lie inside stay.
func (f *Frame) within(b Box) Box {
	q, ok := f.quad()
	if !ok {
		return b
	}
	for range 4 { // each side depends a little on those beside it
		l := max(at(q[0], q[3], b.Y0, false), at(q[0], q[3], b.Y1, false))
		r := min(at(q[1], q[2], b.Y0, false), at(q[1], q[2], b.Y1, false))
		t := max(at(q[0], q[1], b.X0, true), at(q[0], q[1], b.X1, true))
		u := min(at(q[3], q[2], b.X0, true), at(q[3], q[2], b.X1, true))
		b = Box{max(b.X0, l), max(b.Y0, t), min(b.X1, r), min(b.Y1, u)}
	}
	return b
}

func (b Box) intersect(c Box) Box {
	return Box{max(b.X0, c.X0), max(b.Y0, c.Y0), min(b.X1, c.X1), min(b.Y1, c.Y1)}
}

// holds says that c lies in b, to a hair.
func (b Box) holds(c Box) bool {
	const hair = 1e-6
	return c.X0 >= b.X0-hair && c.Y0 >= b.Y0-hair && c.X1 <= b.X1+hair && c.Y1 <= b.Y1+hair
}

// cuts says that c lies neither inside nor outside.
func (b Box) cuts(c Box) bool { return !b.intersect(c).Empty() && !b.holds(c) }

// moved is the box shifted.
func (b Box) moved(dx, dy float64) Box { return Box{b.X0 + dx, b.Y0 + dy, b.X1 + dx, b.Y1 + dy} }

// grown is the box with a rim.
func (b Box) grown(rim float64) Box { return Box{b.X0 - rim, b.Y0 - rim, b.X1 + rim, b.Y1 + rim} }

// beside is how much backdrop is kept between a card and the window's edge, mm.
const beside = 2.0

// windowOf settles the window of a set of frames: want is what there is room for, need what holds the plants. A card or tag
// that a photo's own panel cannot leave out without losing some of the plant is taken in whole, as far as its photo reaches.
func windowOf(frames []*Frame, want, need Box) Box {
	win := want
	for _, f := range frames {
		win = win.intersect(f.within(want))
	}
	win = win.union(need)
	for _, f := range frames {
		for range f.Whole {
			own := f.within(win)
			k, ok := f.cutBy(own)
			if !ok {
				break
			}
			if _, ok := uncut(own, f.reach().intersect(own), k); ok {
				break // its panel leaves it out
			}
			room := f.within(win.union(k.grown(beside)))
			if !room.holds(k) {
				break
			}
			win = win.union(room.intersect(win.union(k.grown(beside))))
		}
	}
	parts := win
	for _, f := range frames {
		parts = parts.intersect(f.part(win))
	}
	if parts.holds(need) { // all panels alike
		return parts
	}
	return win
}

// reach is the frame's extent as far as its picture shows it.
func (f *Frame) reach() Box { return f.within(f.extent()) }

// cutBy is the first card or tag that a window cuts.
func (f *Frame) cutBy(win Box) (Box, bool) {
	for _, k := range f.Whole {
		if k = k.moved(-f.Anchor.X, -f.Anchor.Y); win.cuts(k) {
			return k, true
		}
	}
	return Box{}, false
}

// uncut moves one side of a window inwards so that a thing is no longer cut, keeping as much as it can and all that is
// needed; ok is false where that cannot be.
func uncut(win, need, k Box) (best Box, ok bool) {
	area := 0.0
	for _, b := range []Box{
		{k.X1 + beside, win.Y0, win.X1, win.Y1},
		{win.X0, win.Y0, k.X0 - beside, win.Y1},
		{win.X0, k.Y1 + beside, win.X1, win.Y1},
		{win.X0, win.Y0, win.X1, k.Y0 - beside},
	} {
		if a := (b.X1 - b.X0) * (b.Y1 - b.Y0); !b.Empty() && b.holds(need) && a > area {
			best, area = b, a
		}
	}
	return best, area > 0
}

// part is the window's part that a frame's panel shows: as far as its photo reaches, and nothing of a card or tag that
// would be cut.
func (f *Frame) part(win Box) Box {
	b := f.within(win)
	if b.Empty() {
		return win
	}
	need := f.reach().intersect(b)
	for range f.Whole {
		k, ok := f.cutBy(b)
		if !ok {
			break
		}
		less, ok := uncut(b, need, k)
		if !ok {
			break
		}
		b = less
	}
	return b
}

// onPx is where a box lies in a window, in whole px of a scale.
func (b Box) onPx(win Box, scale float64) (x, y, w, h int) {
	x, y = int(math.Round((b.X0-win.X0)*scale)), int(math.Round((b.Y0-win.Y0)*scale))
	return x, y, max(1, int(math.Round((b.X1-b.X0)*scale))), max(1, int(math.Round((b.Y1-b.Y0)*scale)))
}
