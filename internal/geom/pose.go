package geom

import "math"

// Camera is a pinhole camera with square pixels and a pose relative to the card.
type Camera struct {
	F      float64 // focal length, px
	CX, CY float64 // principal point, px
	R      Mat3    // card frame to camera frame
	T      Vec3    // mm: the card's origin in the camera frame
}

// Px projects a point of the card's frame (mm, z away from the camera) into the photo.
func (c Camera) Px(p Vec3) PX {
	q := c.R.Vec(p)
	x, y, z := q[0]+c.T[0], q[1]+c.T[1], q[2]+c.T[2]
	return PX{c.F*x/z + c.CX, c.F*y/z + c.CY}
}

// Plane gives the homography of the plane parallel to the card's at offsetMM in front of it (towards the camera).
func (c Camera) Plane(offsetMM float64) Homography {
	k := Mat3{c.F, 0, c.CX, 0, c.F, c.CY, 0, 0, 1}
	z := -offsetMM
	m := Mat3{
		c.R[0], c.R[1], c.R[2]*z + c.T[0],
		c.R[3], c.R[4], c.R[5]*z + c.T[1],
		c.R[6], c.R[7], c.R[8]*z + c.T[2],
	}
	h := k.Mul(m)
	d := h[8]
	for i := range h {
		h[i] /= d
	}
	return Homography(h)
}

// Centre is the camera's position in the card's frame, mm.
func (c Camera) Centre() Vec3 {
	v := c.R.T().Vec(c.T)
	return Vec3{-v[0], -v[1], -v[2]}
}

// TiltDeg is the angle between the card's normal and the optical axis.
func (c Camera) TiltDeg() float64 {
	return math.Acos(math.Min(1, math.Abs(c.R[8]))) * 180 / math.Pi
}

// DepthMM is the distance along the optical axis of a point of the card's plane.
func (c Camera) DepthMM(p MM) float64 { return c.R[6]*p.X + c.R[7]*p.Y + c.T[2] }

// PoseFromHomography decomposes the homography of a plane seen by a camera of known focal length (Zhang 2000, A
// flexible new technique for camera calibration): the two first columns of K^-1 H are the plane's axes up to scale.
// The result is a start for RefinePose, not an optimum. Errors: ErrDegenerate.
func PoseFromHomography(h Homography, f, cx, cy float64) (Camera, error) {
	ki := Mat3{1 / f, 0, -cx / f, 0, 1 / f, -cy / f, 0, 0, 1}
	m := ki.Mul(Mat3(h))
	a, b, t := Vec3{m[0], m[3], m[6]}, Vec3{m[1], m[4], m[7]}, Vec3{m[2], m[5], m[8]}
	na, nb := Norm(a), Norm(b)
	if na == 0 || nb == 0 || math.IsNaN(na+nb) {
		return Camera{}, ErrDegenerate
	}
	s := 2 / (na + nb)
	if t[2] < 0 {
		s = -s
	}
	for i := range 3 {
		a[i], b[i], t[i] = a[i]*s, b[i]*s, t[i]*s
	}
	// The nearest pair of orthonormal axes: half the correction on each.
	d := Dot(a, b)
	var u, v Vec3
	for i := range 3 {
		u[i], v[i] = a[i]-d/2*b[i], b[i]-d/2*a[i]
	}
	nu := Norm(u)
	for i := range 3 {
		u[i] /= nu
	}
	d = Dot(u, v)
	for i := range 3 {
		v[i] -= d * u[i]
	}
	nv := Norm(v)
	for i := range 3 {
		v[i] /= nv
	}
	w := Cross(u, v)
	return Camera{F: f, CX: cx, CY: cy, R: Mat3{u[0], v[0], w[0], u[1], v[1], w[1], u[2], v[2], w[2]}, T: t}, nil
}

// Turned is the camera after a small rotation vector w (radians, camera frame) and shift d (mm).
func (c Camera) Turned(w, d Vec3) Camera {
	c.R = Rodrigues(w).Mul(c.R)
	for i := range 3 {
		c.T[i] += d[i]
	}
	return c
}
