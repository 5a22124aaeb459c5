package part

import (
	"math"

	"phototrack/internal/geom"
)

// section is the straight way across a part between two places of a photo.
type section struct {
	in   *Input
	a, b geom.MM
}

// colour is the mean colour about its middle.
func (s section) colour() (light, bool) {
	l := math.Hypot(s.b.X-s.a.X, s.b.Y-s.a.Y)
	if l == 0 {
		return light{}, false
	}
	d := geom.MM{X: (s.b.X - s.a.X) / l, Y: (s.b.Y - s.a.Y) / l}
	p := s.in.take(transect{origin: s.a, dir: d, side: geom.MM{X: -d.Y, Y: d.X}, to: l, halfSide: l / 20, step: l / 20, delta: 1})
	return p.mean(0.25*l, 0.75*l)
}

// alike says whether two sections have about the same colour.
func alike(before, now section) bool {
	x, ok1 := before.colour()
	y, ok2 := now.colour()
	return ok1 && ok2 && far(x, y) < colourOff
}

// alikeAlong compares the colour along the middles of two paths.
func alikeAlong(before, now *Input, a, b []geom.MM) bool {
	mean := func(in *Input, path []geom.MM) (m light, ok bool) {
		n := 0.0
		for _, p := range path {
			if px, ok := in.Surface.PX(p); ok {
				if l, ok := lightAt(in.Img, px); ok {
					for c := range m {
						m[c] += l[c]
					}
					n++
				}
			}
		}
		for c := range m {
			m[c] /= math.Max(1, n)
		}
		return m, n > 2
	}
	x, ok1 := mean(before, a)
	y, ok2 := mean(now, b)
	return ok1 && ok2 && far(x, y) < colourOff
}
