package scenemaker

import "phototrack/internal/geom"

// plane is a flat surface in space: its point (u, v), mm, lies at O + u U + v V of the card's frame. U and V need not be
// of length 1: a print that came out too large has longer ones.
type plane struct{ O, U, V geom.Vec3 }

// at is the point (u, v) in the card's frame.
func (p plane) at(u, v float64) (q geom.Vec3) {
	for i := range q {
		q[i] = p.O[i] + u*p.U[i] + v*p.V[i]
	}
	return
}

// normal is the unit normal on the camera's side.
func (p plane) normal() geom.Vec3 {
	n := geom.Cross(p.U, p.V)
	l := geom.Norm(n)
	if n[2] > 0 {
		l = -l
	}
	return geom.Vec3{n[0] / l, n[1] / l, n[2] / l}
}

// projected is the area on the card's plane, orthogonally below one unit of area of the plane's own (u, v).
func (p plane) projected() float64 {
	n := geom.Cross(p.U, p.V)
	if n[2] < 0 {
		return -n[2]
	}
	return n[2]
}

// toPx is the homography from (u, v) to the photo.
func (p plane) toPx(c geom.Camera) geom.Homography {
	u, v, o := c.R.Vec(p.U), c.R.Vec(p.V), c.R.Vec(p.O)
	for i := range o {
		o[i] += c.T[i]
	}
	row := func(f, centre float64, i int) (a, b, d float64) {
		return f*u[i] + centre*u[2], f*v[i] + centre*v[2], f*o[i] + centre*o[2]
	}
	var h geom.Homography
	h[0], h[1], h[2] = row(c.F, c.CX, 0)
	h[3], h[4], h[5] = row(c.F, c.CY, 1)
	h[6], h[7], h[8] = u[2], v[2], o[2]
	for i := range h {
		h[i] /= o[2]
	}
	return h
}

// shape is a flat figure: closed rings on a plane, filled by the even-odd rule with one paint.
type shape struct {
	plane int
	rings [][]geom.MM
	px    [][]geom.PX // instead of rings: of what is not flat, laid out in the photo already
	paint int
	over  int // object that it is painted on and cut off by; anything for -1
	obj   int
}

// rect is an upright rectangle as a ring.
func rect(x, y, w, h float64) []geom.MM {
	return []geom.MM{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}
