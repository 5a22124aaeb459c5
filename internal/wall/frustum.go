package wall

import "math"

// Frustum is the wall of a pot: the surface of revolution of a straight line about the axis from Rim to Base.
type Frustum struct {
	Rim, Base   Vec     // centres of the wall's upper and lower end, mm
	RRim, RBase float64 // radii there, mm
	Zero        Vec     // direction of azimuth 0; only its part square to the axis counts
}

// frame is the orthonormal frame of a frustum: along the axis from rim to base, towards azimuth 0, and towards
// azimuth +90 degrees.
type frame struct {
	axis, zero, side Vec
	height           float64
}

func (f Frustum) frame() frame {
	d := f.Base.Sub(f.Rim)
	h := d.Norm()
	a := d.Unit()
	z := f.Zero.Sub(a.Scale(f.Zero.Dot(a))).Unit()
	return frame{a, z, z.Cross(a), h}
}

// Height is the length of the axis from rim to base, mm.
func (f Frustum) Height() float64 { return f.Base.Sub(f.Rim).Norm() }

// Radius is the wall's radius at depth y below the rim, mm, measured along the axis.
func (f Frustum) Radius(y float64) float64 { return f.RRim + (f.RBase-f.RRim)*y/f.Height() }

// Inset is the frustum whose radii are smaller by d: where the centrelines of roots of diameter 2 d lie that hug the
// wall from inside.
func (f Frustum) Inset(d float64) Frustum {
	f.RRim -= d
	f.RBase -= d
	return f
}

// Facing is the frustum with azimuth 0 turned towards the point p (the camera's centre).
func (f Frustum) Facing(p Vec) Frustum {
	f.Zero = p.Sub(f.Rim.Add(f.Base).Scale(0.5))
	return f
}

// Point is the wall's point at azimuth az (rad, positive to the right as seen from outside at azimuth 0 with the rim
// up) and depth y below the rim.
func (f Frustum) Point(az, y float64) Vec {
	s := f.Sheet()
	return s.Point(az, y)
}

// Coords is the inverse of Point for a point on, or near, the wall; r is its distance from the axis.
func (f Frustum) Coords(p Vec) (az, y, r float64) {
	s := f.Sheet()
	return s.Coords(p)
}

// Sheet is a frustum with its frame worked out once, for many points.
type Sheet struct {
	f  Frustum
	fr frame
	k  float64 // change of radius per mm of axis
}

// Sheet prepares the frustum for many points.
func (f Frustum) Sheet() Sheet {
	fr := f.frame()
	return Sheet{f, fr, (f.RBase - f.RRim) / fr.height}
}

// Point is Frustum.Point.
func (s *Sheet) Point(az, y float64) Vec {
	sin, cos := math.Sincos(az)
	r := s.f.RRim + s.k*y
	a, b := r*cos, r*sin
	return Vec{
		s.f.Rim[0] + s.fr.axis[0]*y + s.fr.zero[0]*a + s.fr.side[0]*b,
		s.f.Rim[1] + s.fr.axis[1]*y + s.fr.zero[1]*a + s.fr.side[1]*b,
		s.f.Rim[2] + s.fr.axis[2]*y + s.fr.zero[2]*a + s.fr.side[2]*b,
	}
}

// Radius is the radius at depth y below the rim, mm.
func (s *Sheet) Radius(y float64) float64 { return s.f.RRim + s.k*y }

// Coords is Frustum.Coords.
func (s *Sheet) Coords(p Vec) (az, y, r float64) {
	d := p.Sub(s.f.Rim)
	a, b := d.Dot(s.fr.zero), d.Dot(s.fr.side)
	return math.Atan2(b, a), d.Dot(s.fr.axis), math.Hypot(a, b)
}

// Meet intersects the ray from origin along dir (any length) with the wall between rim and base and returns the
// first meeting point ahead, its distance from the origin in mm; ok is false where the ray misses the wall.
func (s *Sheet) Meet(origin, dir Vec) (p Vec, dist float64, ok bool) {
	dir = dir.Unit()
	o := origin.Sub(s.f.Rim)
	// In the frame of the axis: |square part|^2 = (r0 + k y)^2, a quadratic in the distance t along the ray.
	oy, dy := o.Dot(s.fr.axis), dir.Dot(s.fr.axis)
	oq, dq := o.Sub(s.fr.axis.Scale(oy)), dir.Sub(s.fr.axis.Scale(dy))
	r0, r1 := s.f.RRim+s.k*oy, s.k*dy
	a, b, c := dq.Dot(dq)-r1*r1, oq.Dot(dq)-r0*r1, oq.Dot(oq)-r0*r0
	t1, t2, real := roots(a, b, c)
	if !real {
		return p, 0, false
	}
	for _, t := range [2]float64{t1, t2} {
		y := oy + t*dy
		// r0 + r1 t < 0 would be the cone's other nappe
		if t > 0 && y >= -onRimMM && y <= s.fr.height+onRimMM && r0+r1*t > 0 {
			return origin.Add(dir.Scale(t)), t, true
		}
	}
	return p, 0, false
}

// MeetOpen is Meet for the wall continued beyond rim and base, nearest point only.
func (s *Sheet) MeetOpen(origin, dir Vec) (p Vec, ok bool) {
	o := origin.Sub(s.f.Rim)
	oy, dy := o.Dot(s.fr.axis), dir.Dot(s.fr.axis)
	oq, dq := o.Sub(s.fr.axis.Scale(oy)), dir.Sub(s.fr.axis.Scale(dy))
	r0, r1 := s.f.RRim+s.k*oy, s.k*dy
	t1, _, real := roots(dq.Dot(dq)-r1*r1, oq.Dot(dq)-r0*r1, oq.Dot(oq)-r0*r0)
	if !real || t1 <= 0 {
		return p, false
	}
	return origin.Add(dir.Scale(t1)), true
}

const (
	onRimMM  = 1e-9  // what arithmetic may be off at rim and base
	linear   = 1e-15 // a quadratic term below it is none
	straight = 1e-12 // the slope of a wall below which it counts as a cylinder: its cone's tip would lie beyond all numbers
)

// roots solves a t^2 + 2 b t + c = 0, smaller root first.
func roots(a, b, c float64) (t1, t2 float64, real bool) {
	if math.Abs(a) < linear {
		if b == 0 {
			return 0, 0, false
		}
		t := -c / (2 * b)
		return t, t, true
	}
	d := b*b - a*c
	if d < 0 {
		return 0, 0, false
	}
	// q avoids the difference of nearly equal numbers
	q := -(b + math.Copysign(math.Sqrt(d), b))
	t1, t2 = q/a, c/q
	if q == 0 {
		t2 = 0
	}
	if t1 > t2 {
		t1, t2 = t2, t1
	}
	return t1, t2, true
}

// Developed gives the position of the wall's point at azimuth az and depth y on the flattened wall, mm, without any
// stretching: a cylinder rolls out to a rectangle (x along the wall, y down from the rim); a cone to a sector about its
// apex, x = s sin(az sin a), y = distance down from the rim of the middle line, s the slant distance from the apex.
func (s *Sheet) Developed(az, y float64) (x, v float64) {
	if math.Abs(s.k) < straight {
		return s.f.RRim * az, y
	}
	slope := math.Hypot(1, s.k)   // slant per mm of axis
	sinA := math.Abs(s.k) / slope // sine of the half angle
	s0, sr := s.f.RRim/sinA, s.Radius(y)/sinA
	sin, cos := math.Sincos(az * sinA)
	if s.k < 0 { // narrower at the base: the apex lies below
		return sr * sin, s0 - sr*cos
	}
	return sr * sin, sr*cos - s0
}

// Silhouette gives the azimuths, about the frustum's own zero, of the two lines along which rays from eye touch the
// wall at depth y: left (negative) and right. ok is false for an eye inside the cone.
func (s *Sheet) Silhouette(eye Vec, y float64) (left, right float64, ok bool) {
	// The normal at azimuth az is zero cos az + side sin az - k axis (outward for a wall r = r0 + k y); the ray touches
	// where normal . (eye - point) = 0, with point at depth y: e.(zero cos + side sin) = r + k (ey - y).
	d := eye.Sub(s.f.Rim)
	a, b, ey := d.Dot(s.fr.zero), d.Dot(s.fr.side), d.Dot(s.fr.axis)
	rho := math.Hypot(a, b)
	c := (s.Radius(y) + s.k*(ey-y)) / rho
	if c >= 1 || c <= -1 {
		return 0, 0, false
	}
	mid, half := math.Atan2(b, a), math.Acos(c)
	return mid - half, mid + half, true
}

// Frame is the frustum's orthonormal frame: along the axis from rim to base, towards azimuth 0, towards azimuth +90
// degrees.
func (s *Sheet) Frame() (axis, zero, side Vec) { return s.fr.axis, s.fr.zero, s.fr.side }
