// Package geom is the plane and camera geometry of a photo: homographies between the card's plane (mm) and the photo
// (px), the area of a pixel, and the pose of a pinhole camera. Pixel centres are at whole numbers; the camera's axes
// are x right, y down, z forward; the card's are x right, y down, z away from the camera.
package geom

import (
	"errors"
	"math"
)

// MM is a point of the card's plane, in mm. PX is a point of the photo, in px. They are different types so that mixing
// them does not compile.
type (
	MM struct{ X, Y float64 }
	PX struct{ X, Y float64 }
)

// Vec3 is a vector of three numbers; Mat3 a 3x3 matrix, row by row.
type (
	Vec3 [3]float64
	Mat3 [9]float64
)

// ErrDegenerate says that points or matrices do not determine an answer.
var ErrDegenerate = errors.New("degenerate geometry")

// Mul is the matrix product a b.
func (a Mat3) Mul(b Mat3) (c Mat3) {
	for i := range 3 {
		for j := range 3 {
			c[3*i+j] = a[3*i]*b[j] + a[3*i+1]*b[3+j] + a[3*i+2]*b[6+j]
		}
	}
	return
}

// Vec is the product of the matrix with a column.
func (a Mat3) Vec(v Vec3) Vec3 {
	return Vec3{a[0]*v[0] + a[1]*v[1] + a[2]*v[2], a[3]*v[0] + a[4]*v[1] + a[5]*v[2], a[6]*v[0] + a[7]*v[1] + a[8]*v[2]}
}

// T is the transpose.
func (a Mat3) T() Mat3 { return Mat3{a[0], a[3], a[6], a[1], a[4], a[7], a[2], a[5], a[8]} }

// Det is the determinant.
func (a Mat3) Det() float64 {
	return a[0]*(a[4]*a[8]-a[5]*a[7]) - a[1]*(a[3]*a[8]-a[5]*a[6]) + a[2]*(a[3]*a[7]-a[4]*a[6])
}

// Inv is the inverse; ErrDegenerate where there is none.
func (a Mat3) Inv() (Mat3, error) {
	d := a.Det()
	if d == 0 || math.IsNaN(d) || math.IsInf(d, 0) {
		return Mat3{}, ErrDegenerate
	}
	return Mat3{
		(a[4]*a[8] - a[5]*a[7]) / d, (a[2]*a[7] - a[1]*a[8]) / d, (a[1]*a[5] - a[2]*a[4]) / d,
		(a[5]*a[6] - a[3]*a[8]) / d, (a[0]*a[8] - a[2]*a[6]) / d, (a[2]*a[3] - a[0]*a[5]) / d,
		(a[3]*a[7] - a[4]*a[6]) / d, (a[1]*a[6] - a[0]*a[7]) / d, (a[0]*a[4] - a[1]*a[3]) / d,
	}, nil
}

// atInfinity is the homogeneous coordinate below which a point lies on the horizon.
const atInfinity = 1e-9

// Project maps a point of a plane by the matrix as a homography; ok is false where the point goes to infinity.
func (a Mat3) Project(x, y float64) (u, v float64, ok bool) {
	w := a[6]*x + a[7]*y + a[8]
	if math.Abs(w) < atInfinity || math.IsNaN(w) {
		return 0, 0, false
	}
	return (a[0]*x + a[1]*y + a[2]) / w, (a[3]*x + a[4]*y + a[5]) / w, true
}

// Cross is the vector product; Dot the scalar one; Norm the length.
func Cross(a, b Vec3) Vec3 {
	return Vec3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// Dot is the scalar product.
func Dot(a, b Vec3) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// Norm is the length.
func Norm(a Vec3) float64 { return math.Sqrt(Dot(a, a)) }

// noTurn is the angle, rad, below which a rotation is taken as its linear part: what that leaves out is its square.
const noTurn = 1e-12

// Rodrigues turns a rotation vector (axis times angle in radians) into a rotation matrix.
func Rodrigues(r Vec3) Mat3 {
	t := Norm(r)
	if t < noTurn {
		return Mat3{1, -r[2], r[1], r[2], 1, -r[0], -r[1], r[0], 1}
	}
	x, y, z := r[0]/t, r[1]/t, r[2]/t
	c, s := math.Cos(t), math.Sin(t)
	v := 1 - c
	return Mat3{c + x*x*v, x*y*v - z*s, x*z*v + y*s, y*x*v + z*s, c + y*y*v, y*z*v - x*s, z*x*v - y*s, z*y*v + x*s, c + z*z*v}
}

// Homography maps the card's plane (mm) to the photo (px): px ~ H (x, y, 1).
type Homography Mat3

// Px projects a point of the plane into the photo.
func (h Homography) Px(p MM) PX {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return PX{(h[0]*p.X + h[1]*p.Y + h[2]) / w, (h[3]*p.X + h[4]*p.Y + h[5]) / w}
}

// Inverse gives the map from the photo to the plane.
func (h Homography) Inverse() (ToPlane, error) {
	m, err := Mat3(h).Inv()
	if err != nil {
		return ToPlane{}, err
	}
	d := m[8]
	for i := range m {
		m[i] /= d
	}
	return ToPlane(m), nil
}

// ToPlane maps the photo (px) to the plane (mm).
type ToPlane Mat3

// MM is the point of the plane that the camera sees at p.
func (g ToPlane) MM(p PX) MM {
	w := g[6]*p.X + g[7]*p.Y + g[8]
	return MM{(g[0]*p.X + g[1]*p.Y + g[2]) / w, (g[3]*p.X + g[4]*p.Y + g[5]) / w}
}

// AreaMM2 is the area of the plane that one pixel at p covers: |det J| = |det G| / |w|^3.
func (g ToPlane) AreaMM2(p PX) float64 {
	w := g[6]*p.X + g[7]*p.Y + g[8]
	return math.Abs(Mat3(g).Det()) / math.Abs(w*w*w)
}

// FitHomography fits the map from mm to px by least squares in the photo over n >= 4 pairs: a linear start from
// normalised points (Hartley 1997, In defence of the eight-point algorithm), then Levenberg-Marquardt on the
// distances in px. Weights may be nil. Errors: ErrDegenerate.
func FitHomography(mm []MM, px []PX, weight []float64) (Homography, error) {
	if len(mm) < 4 || len(mm) != len(px) {
		return Homography{}, ErrDegenerate
	}
	h, err := dlt(mm, px)
	if err != nil {
		return h, err
	}
	p := append([]float64(nil), h[:8]...)
	fit := LM(p, 2*len(mm), func(p, r []float64) {
		g := Homography{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}
		for i := range mm {
			w := 1.0
			if weight != nil {
				w = weight[i]
			}
			q := g.Px(mm[i])
			r[2*i], r[2*i+1] = w*(q.X-px[i].X), w*(q.Y-px[i].Y)
		}
	}, 50)
	copy(h[:8], fit.P)
	h[8] = 1
	return h, nil
}

func dlt(mm []MM, px []PX) (Homography, error) {
	n := len(mm)
	var cx, cy, cu, cv float64
	for i := range mm {
		cx, cy, cu, cv = cx+mm[i].X, cy+mm[i].Y, cu+px[i].X, cv+px[i].Y
	}
	f := float64(n)
	cx, cy, cu, cv = cx/f, cy/f, cu/f, cv/f
	var sm, sp float64
	for i := range mm {
		sm += math.Hypot(mm[i].X-cx, mm[i].Y-cy)
		sp += math.Hypot(px[i].X-cu, px[i].Y-cv)
	}
	if sm == 0 || sp == 0 {
		return Homography{}, ErrDegenerate
	}
	sm, sp = f*math.Sqrt2/sm, f*math.Sqrt2/sp
	// With h33 = 1 in the normalised frame the system is 8 x 8: the card is in front of the camera, so h33 is not 0.
	var a [8][8]float64
	var b [8]float64
	add := func(row [8]float64, rhs float64) {
		for i := range 8 {
			for j := range 8 {
				a[i][j] += row[i] * row[j]
			}
			b[i] += row[i] * rhs
		}
	}
	for i := range mm {
		x, y, u, v := (mm[i].X-cx)*sm, (mm[i].Y-cy)*sm, (px[i].X-cu)*sp, (px[i].Y-cv)*sp
		add([8]float64{x, y, 1, 0, 0, 0, -u * x, -u * y}, u)
		add([8]float64{0, 0, 0, x, y, 1, -v * x, -v * y}, v)
	}
	A := make([][]float64, 8)
	for i := range A {
		A[i] = a[i][:]
	}
	s, ok := SolveSymmetric(A, b[:])
	if !ok {
		return Homography{}, ErrDegenerate
	}
	hn := Mat3{s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], 1}
	tm := Mat3{sm, 0, -sm * cx, 0, sm, -sm * cy, 0, 0, 1}
	tpInv := Mat3{1 / sp, 0, cu, 0, 1 / sp, cv, 0, 0, 1}
	h := tpInv.Mul(hn).Mul(tm)
	if h[8] == 0 || math.IsNaN(h[8]) {
		return Homography{}, ErrDegenerate
	}
	d := h[8]
	for i := range h {
		h[i] /= d
	}
	h[8] = 1
	return Homography(h), nil
}
