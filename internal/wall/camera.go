// Package wall is the geometry of a clear pot's wall seen by a calibrated camera: a frustum of a right circular cone
// (a cylinder where both radii are equal), rays that meet it, and the flat picture it unrolls to. Pure Go.
//
// All positions are in the card's frame of the scale card, mm: x right, y down, z away from the camera. Pixels have
// their centres at whole numbers. Light is taken to pass the thin wall without bending.
package wall

import "math"

// Vec is a position or a direction in mm.
type Vec [3]float64

// Add returns a + b.
func (a Vec) Add(b Vec) Vec { return Vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }

// Sub returns a - b.
func (a Vec) Sub(b Vec) Vec { return Vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// Scale returns k a.
func (a Vec) Scale(k float64) Vec { return Vec{k * a[0], k * a[1], k * a[2]} }

// Dot returns the scalar product.
func (a Vec) Dot(b Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// Cross returns the vector product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// Norm returns the length.
func (a Vec) Norm() float64 { return math.Sqrt(a.Dot(a)) }

// Unit returns a with length 1; the zero vector stays as it is.
func (a Vec) Unit() Vec {
	n := a.Norm()
	if n == 0 {
		return a
	}
	return a.Scale(1 / n)
}

// Camera is a pinhole camera without distortion, placed in the card's frame.
type Camera struct {
	Fx, Fy, Cx, Cy float64    // px
	R              [9]float64 // card frame to camera frame, row by row
	T              Vec        // mm: X_camera = R X_card + T, camera axes x right, y down, z forward
}

// Centre is the camera's centre in the card's frame.
func (c Camera) Centre() Vec {
	r, t := c.R, c.T
	return Vec{-(r[0]*t[0] + r[3]*t[1] + r[6]*t[2]), -(r[1]*t[0] + r[4]*t[1] + r[7]*t[2]), -(r[2]*t[0] + r[5]*t[1] + r[8]*t[2])}
}

// beforeMM is how far before the camera a point must lie to be seen.
const beforeMM = 1e-9

// Project gives the pixel at which the camera sees p; ok is false for a point that is not before the camera.
func (c Camera) Project(p Vec) (u, v float64, ok bool) {
	r := &c.R
	z := r[6]*p[0] + r[7]*p[1] + r[8]*p[2] + c.T[2]
	if z <= beforeMM {
		return 0, 0, false
	}
	x := r[0]*p[0] + r[1]*p[1] + r[2]*p[2] + c.T[0]
	y := r[3]*p[0] + r[4]*p[1] + r[5]*p[2] + c.T[1]
	return c.Fx*x/z + c.Cx, c.Fy*y/z + c.Cy, true
}

// Turn gives a direction of the card's frame in the camera's frame.
func (c *Camera) Turn(d Vec) Vec {
	r := &c.R
	return Vec{
		r[0]*d[0] + r[1]*d[1] + r[2]*d[2],
		r[3]*d[0] + r[4]*d[1] + r[5]*d[2],
		r[6]*d[0] + r[7]*d[1] + r[8]*d[2],
	}
}

// Place gives a position of the card's frame in the camera's frame, mm.
func (c *Camera) Place(p Vec) Vec { return c.Turn(p).Add(c.T) }

// Ray is the unit direction, in the card's frame, in which the camera looks through pixel (u, v).
func (c Camera) Ray(u, v float64) Vec {
	x, y := (u-c.Cx)/c.Fx, (v-c.Cy)/c.Fy
	r := &c.R
	return Vec{r[0]*x + r[3]*y + r[6], r[1]*x + r[4]*y + r[7], r[2]*x + r[5]*y + r[8]}.Unit()
}
