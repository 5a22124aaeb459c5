package scenemaker

import (
	"math"

	"phototrack/internal/geom"
)

// axes of the plant's plane in the card's frame: right, down and towards the camera.
func (st Stand) axes() (right, down, near geom.Vec3) {
	r := geom.Rodrigues(geom.Vec3{0, rad(st.TurnDeg), 0}).Mul(geom.Rodrigues(geom.Vec3{rad(st.LeanDeg), 0, 0}))
	return r.Vec(geom.Vec3{1, 0, 0}), r.Vec(geom.Vec3{0, 1, 0}), r.Vec(geom.Vec3{0, 0, -1})
}

func rad(deg float64) float64 { return deg * math.Pi / 180 }

// planeOf is the plane of a leaf: turned with the plant about the plant's middle, and tipped out of the plant's plane
// about the leaf's own middle, so that slopes do not move it nearer or farther as a whole.
func (st Stand) planeOf(l *Leaf) plane {
	right, down, near := st.axes()
	in := func(x, y, z float64) (v geom.Vec3) { // plant's frame to the card's
		for i := range v {
			v[i] = x*right[i] + y*down[i] + z*near[i]
		}
		return
	}
	sa, ca := math.Sincos(rad(l.AngleDeg))
	ss, cs := math.Sincos(rad(l.SlopeDeg))
	sr, cr := math.Sincos(rad(l.RollDeg))
	along := geom.Vec3{ca * cs, sa * cs, ss}
	flat := geom.Vec3{-sa, ca, 0}
	up := geom.Vec3{-ca * ss, -sa * ss, cs}
	u := in(along[0], along[1], along[2])
	v := in(flat[0]*cr+up[0]*sr, flat[1]*cr+up[1]*sr, flat[2]*cr+up[2]*sr)
	m := l.point(l.WidestAt, 0)
	// Where the leaf's middle would lie without slope, from the plant's middle.
	x := l.BaseX + m.X*ca - m.Y*sa - st.MiddleX
	y := l.BaseY + m.X*sa + m.Y*ca - st.MiddleY
	at := in(x, y, l.DepthMM)
	o := geom.Vec3{st.X + st.MiddleX + at[0], st.Y + st.MiddleY + at[1], -st.DepthMM + at[2]}
	for i := range o {
		o[i] -= m.X*u[i] + m.Y*v[i]
	}
	return plane{O: o, U: u, V: v}
}
