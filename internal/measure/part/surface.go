package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/wall"
)

// Surface maps between the photo and the surface that a part lies on, in mm of that surface: x to the right, y down, lengths
// true. ok is false where there is nothing on the other side.
type Surface interface {
	MM(p geom.PX) (q geom.MM, ok bool)
	PX(q geom.MM) (p geom.PX, ok bool)
}

// Plane is a plane parallel to the card's.
type Plane struct {
	ToPX geom.Homography
	ToMM geom.ToPlane
}

// NewPlane makes the surface of a homography from mm to px. Errors: geom.ErrDegenerate.
func NewPlane(h geom.Homography) (Plane, error) {
	g, err := h.Inverse()
	return Plane{h, g}, err
}

// Beyond farMM and farPx lies the plane's horizon: no plant or photo is so large.
const farMM, farPx = 1e6, 1e7

// straight is the slope of a wall below which it counts as a cylinder: its cone's tip would lie beyond all numbers.
const straight = 1e-12

// MM is the place of the plane seen at p.
func (s Plane) MM(p geom.PX) (geom.MM, bool) {
	q := s.ToMM.MM(p)
	return q, !math.IsNaN(q.X+q.Y) && math.Abs(q.X)+math.Abs(q.Y) < farMM
}

// PX is where the photo shows q.
func (s Plane) PX(q geom.MM) (geom.PX, bool) {
	p := s.ToPX.Px(q)
	return p, !math.IsNaN(p.X+p.Y) && math.Abs(p.X)+math.Abs(p.Y) < farPx
}

// wallLimit is the azimuth up to which a line on a wall is followed: beyond it the wall is seen at a grazing angle.
const wallLimit = 75 * math.Pi / 180

// Wall is a pot's wall rolled flat: x along the wall from the camera's direction, y down from the rim.
type Wall struct {
	cam   wall.Camera
	sheet wall.Sheet
	pot   wall.Frustum
}

// NewWall makes the surface of a pot's wall; the frustum's azimuth 0 faces the camera.
func NewWall(cam wall.Camera, pot wall.Frustum) Wall {
	pot = pot.Facing(cam.Centre())
	return Wall{cam, pot.Sheet(), pot}
}

// MM is the place on the rolled-out wall seen at p.
func (s Wall) MM(p geom.PX) (geom.MM, bool) {
	at, _, ok := s.sheet.Meet(s.cam.Centre(), s.cam.Ray(p.X, p.Y))
	if !ok {
		return geom.MM{}, false
	}
	az, y, _ := s.sheet.Coords(at)
	if math.Abs(az) > wallLimit {
		return geom.MM{}, false
	}
	x, v := s.sheet.Developed(az, y)
	return geom.MM{X: x, Y: v}, true
}

// PX is where the photo shows a place of the rolled-out wall.
func (s Wall) PX(q geom.MM) (geom.PX, bool) {
	az, y := s.rolledUp(q)
	if math.Abs(az) > wallLimit {
		return geom.PX{}, false
	}
	u, v, ok := s.cam.Project(s.sheet.Point(az, y))
	return geom.PX{X: u, Y: v}, ok
}

// rolledUp is the inverse of wall.Sheet.Developed: azimuth and depth below the rim.
func (s Wall) rolledUp(q geom.MM) (az, y float64) {
	k := (s.pot.RBase - s.pot.RRim) / s.pot.Height()
	if math.Abs(k) < straight {
		return q.X / s.pot.RRim, q.Y
	}
	sinA := math.Abs(k) / math.Hypot(1, k)
	s0 := s.pot.RRim / sinA
	if k < 0 {
		sr := math.Hypot(q.X, s0-q.Y)
		return math.Atan2(q.X, s0-q.Y) / sinA, (sr*sinA - s.pot.RRim) / k
	}
	sr := math.Hypot(q.X, s0+q.Y)
	return math.Atan2(q.X, s0+q.Y) / sinA, (sr*sinA - s.pot.RRim) / k
}
