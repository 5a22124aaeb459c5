package scenemaker

import (
	"math"
	"sort"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Pot is a clear pot with bark and roots at its wall, its axis upright in the card's frame.
type Pot struct {
	X, RimY  float64 // mm: the axis, and the height of the rim
	DepthMM  float64 // of the axis before the card's plane, towards the camera
	RimR     float64 // inside radii, mm
	BaseR    float64
	HeightMM float64
	Roots    []Root // from the back to the front
}

// Root is a tube that hugs the wall from inside. Its centreline runs through points of azimuth (degrees about the axis,
// from the camera's direction, positive to the right) and depth below the rim (mm), joined by a smooth curve.
type Root struct {
	AzimuthDeg []float64
	DownMM     []float64
	DiameterMM float64
	Colour     colour.Lab
	TipMM      float64 // length of the green growing tip at the end, 0 for none
}

// TipColour is that of growing tips.
var TipColour = colour.Lab{L: 62, A: -22, B: 40}

// RootTruth is what is seen of the roots: the length in space of centrelines within 60 degrees of azimuth that nothing
// hides, and the growing tips seen there.
type RootTruth struct {
	VisibleMM float64
	WholeMM   float64
	Tips      int
}

// AzimuthLimitDeg is how far round the wall roots count.
const AzimuthLimitDeg = 60.0

// spline is a natural look through knots: Catmull & Rom 1974, at u from 0 to the last knot's number.
func spline(k []float64, u float64) float64 {
	i := min(len(k)-2, max(0, int(u)))
	t := u - float64(i)
	at := func(j int) float64 { return k[min(len(k)-1, max(0, j))] }
	a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
	return b + t/2*(c-a+t*(2*a-5*b+4*c-d+t*(3*(b-c)+d-a)))
}

// stretch is a point of a root's centreline.
type stretch struct {
	at      geom.Vec3 // card's frame
	px      geom.PX
	radius  float64 // in px
	azimuth float64 // degrees
	along   float64 // mm from the start
}

// radius is the wall's at a depth below the rim.
func (p *Pot) radius(down float64) float64 {
	return p.RimR + (p.BaseR-p.RimR)*down/p.HeightMM
}

// point is the place at an azimuth from the direction towards the camera, at a depth below the rim, inset into the pot.
func (p *Pot) point(toCamera, azimuthDeg, down, inset float64) geom.Vec3 {
	s, c := math.Sincos(toCamera + rad(azimuthDeg))
	r := p.radius(down) - inset
	return geom.Vec3{p.X + r*s, p.RimY + down, -p.DepthMM - r*c}
}

// toCamera is the direction of the camera from the axis, radians from straight ahead (minus z), positive to the right.
func (p *Pot) toCamera(c geom.Camera) float64 {
	eye := c.Centre()
	return math.Atan2(eye[0]-p.X, -(eye[2] + p.DepthMM))
}

// centreline is a root's centreline in steps of a quarter of a millimetre or so.
func (p *Pot) centreline(r *Root, c geom.Camera) (out []stretch) {
	last := float64(len(r.AzimuthDeg) - 1)
	zero := p.toCamera(c)
	const perKnot = 200
	for i := range int(last)*perKnot + 1 {
		u := float64(i) / perKnot
		s := stretch{azimuth: spline(r.AzimuthDeg, u)}
		s.at = p.point(zero, s.azimuth, spline(r.DownMM, u), r.DiameterMM/2)
		s.px = c.Px(s.at)
		depth := c.R[6]*s.at[0] + c.R[7]*s.at[1] + c.R[8]*s.at[2] + c.T[2]
		s.radius = r.DiameterMM / 2 * c.F / depth
		if i > 0 {
			q := out[i-1]
			s.along = q.along + geom.Norm(geom.Vec3{s.at[0] - q.at[0], s.at[1] - q.at[1], s.at[2] - q.at[2]})
		}
		out = append(out, s)
	}
	return
}

// ribbon is the outline of a tube about a centreline, width times as wide, moved aside by shift of its radius, with round ends.
func ribbon(line []stretch, width, shift float64) []geom.PX {
	n := len(line)
	dir := func(i int) (x, y float64) {
		a, b := line[max(0, i-1)].px, line[min(n-1, i+1)].px
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		return (b.X - a.X) / l, (b.Y - a.Y) / l
	}
	var left, right []geom.PX
	for i, s := range line {
		x, y := dir(i)
		r := s.radius
		px := geom.PX{X: s.px.X - shift*r, Y: s.px.Y - shift*r}
		left = append(left, geom.PX{X: px.X + width*r*y, Y: px.Y - width*r*x})
		right = append(right, geom.PX{X: px.X - width*r*y, Y: px.Y + width*r*x})
	}
	cap := func(i int, sign float64) (out []geom.PX) {
		x, y := dir(i)
		s := line[i]
		for k := 1; k < 12; k++ {
			a := math.Pi * float64(k) / 12
			sin, cos := math.Sincos(a)
			u, v := y*cos+sign*x*sin, -x*cos+sign*y*sin
			if sign < 0 {
				u, v = -y*cos-x*sin, x*cos-y*sin
			}
			out = append(out, geom.PX{X: s.px.X - shift*s.radius + width*s.radius*u, Y: s.px.Y - shift*s.radius + width*s.radius*v})
		}
		return
	}
	out := append(left, cap(n-1, 1)...)
	for i := n - 1; i >= 0; i-- {
		out = append(out, right[i])
	}
	return append(out, cap(0, -1)...)
}

// silhouette is the outline of the pot between two depths as the camera sees it: the convex hull of the two circles.
func (p *Pot) silhouette(c geom.Camera, from, to, inset float64) []geom.PX {
	var pts []geom.PX
	for k := range 180 {
		for _, down := range []float64{from, to} {
			pts = append(pts, c.Px(p.point(0, 2*float64(k), down, inset)))
		}
	}
	return hull(pts)
}

// collar is the near half of a band round the pot.
func (p *Pot) collar(c geom.Camera, from, to, inset float64) (out []geom.PX) {
	zero := p.toCamera(c)
	for az := -90.0; az <= 90; az += 2 {
		out = append(out, c.Px(p.point(zero, az, from, inset)))
	}
	for az := 90.0; az >= -90; az -= 2 {
		out = append(out, c.Px(p.point(zero, az, to, inset)))
	}
	return
}

// hull is the convex hull (Andrew 1979, monotone chain).
func hull(p []geom.PX) []geom.PX {
	sort.Slice(p, func(i, j int) bool { return p[i].X < p[j].X || (p[i].X == p[j].X && p[i].Y < p[j].Y) })
	half := func(order func(int) geom.PX) (out []geom.PX) {
		for i := range p {
			q := order(i)
			for len(out) > 1 {
				a, b := out[len(out)-2], out[len(out)-1]
				if (b.X-a.X)*(q.Y-a.Y)-(b.Y-a.Y)*(q.X-a.X) > 0 {
					break
				}
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		return out[:len(out)-1]
	}
	lower := half(func(i int) geom.PX { return p[i] })
	upper := half(func(i int) geom.PX { return p[len(p)-1-i] })
	return append(lower, upper...)
}
