package root

import "math"

// screen is what hides the wall: polygons in photo px (card, tag), each with the rectangle about it.
type screen []struct {
	poly           [][2]float64
	x0, y0, x1, y1 float64
}

func newScreen(polys [][][2]float64) screen {
	s := make(screen, len(polys))
	for i, p := range polys {
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, q := range p {
			x0, y0, x1, y1 = min(x0, q[0]), min(y0, q[1]), max(x1, q[0]), max(y1, q[1])
		}
		s[i].poly, s[i].x0, s[i].y0, s[i].x1, s[i].y1 = p, x0, y0, x1, y1
	}
	return s
}

// hides is within, with most places told by the rectangles alone.
func (s screen) hides(u, v float64) bool {
	for i := range s {
		p := &s[i]
		if u >= p.x0 && u <= p.x1 && v >= p.y0 && v <= p.y1 && inside(p.poly, u, v) {
			return true
		}
	}
	return false
}

// within says whether the point lies in one of the polygons (even-odd rule).
func within(polys [][][2]float64, u, v float64) bool {
	for _, p := range polys {
		if inside(p, u, v) {
			return true
		}
	}
	return false
}

func inside(p [][2]float64, u, v float64) bool {
	in := false
	for i, j := 0, len(p)-1; i < len(p); j, i = i, i+1 {
		if (p[i][1] > v) != (p[j][1] > v) && u < (p[j][0]-p[i][0])*(v-p[i][1])/(p[j][1]-p[i][1])+p[i][0] {
			in = !in
		}
	}
	return in
}
