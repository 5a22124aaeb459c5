package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/wall"
)

const (
	drawnAzimuth = 66 * math.Pi / 180 // shown a little beyond what is counted, so that nothing is cut at the limit
	limitAzimuth = 60 * math.Pi / 180 // counted
	// Roots are looked for a little farther round; much farther the wall mirrors the room and shows what is behind it.
	searchAzimuth = 66 * math.Pi / 180
	outside       = 0.97 // the frontal view reaches this share of the radius: a little past what is judged
)

// view is a resampling of the photo at a fixed number of px per mm about the pot's axis. The middle column is azimuth 0
// (towards the camera); rows go down along the slope of the wall.
//
// There are two kinds. The frontal view, in which everything is found, spaces its columns by R sin(azimuth), as a far
// camera would see the pot: a root is a tube, so there it is as wide as it is thick at every azimuth, while painted on
// the unrolled wall it would be 1/cos(azimuth) too wide. The unrolled view, for showing and for comparing sessions,
// spaces its columns by R azimuth: every row has true scale along the wall, and a tapered pot gives a picture that
// narrows towards the base.
type view struct {
	W, H    int
	Step    float64 // mm per px
	Mid     float64 // column of azimuth 0
	frontal bool
	s       wall.Sheet
	f       wall.Frustum
	cam     wall.Camera
	slant   float64 // mm of wall per mm of axis
	side    wall.Vec
	zero    wall.Vec
	axis    wall.Vec
}

func newView(cam wall.Camera, f wall.Frustum, step float64, frontal bool) *view {
	h := f.Height()
	slant := math.Hypot(1, (f.RBase-f.RRim)/h)
	r := math.Max(f.RRim, f.RBase)
	reach := outside
	if !frontal {
		reach = drawnAzimuth
	}
	half := int(math.Ceil(reach * r / step))
	v := &view{W: 2*half + 1, H: int(h * slant / step), Step: step, Mid: float64(half), frontal: frontal, s: f.Sheet(), f: f, cam: cam, slant: slant}
	v.axis, v.zero, v.side = v.s.Frame()
	return v
}

// place gives azimuth (rad) and depth below the rim along the axis (mm) of a position in the view, px. In the frontal
// view places outside the wall have azimuth +-90 degrees.
func (v *view) place(x, y float64) (az, depth float64) {
	depth = y * v.Step / v.slant
	a := (x - v.Mid) * v.Step / v.s.Radius(depth)
	if !v.frontal {
		return a, depth
	}
	return math.Asin(math.Max(-1, math.Min(1, a))), depth
}

// at is the inverse of place.
func (v *view) at(az, depth float64) (x, y float64) {
	a := az
	if v.frontal {
		a = math.Sin(az)
	}
	return v.Mid + a*v.s.Radius(depth)/v.Step, depth * v.slant / v.Step
}

// point is the point in space that a position of the view shows: on the wall, or, outside the wall in the frontal
// view, beside it level with the axis.
func (v *view) point(x, y float64) wall.Vec {
	depth := y * v.Step / v.slant
	r := v.s.Radius(depth)
	a := (x - v.Mid) * v.Step
	if !v.frontal {
		return v.s.Point(a/r, depth)
	}
	return v.f.Rim.Add(v.axis.Scale(depth)).Add(v.side.Scale(a)).Add(v.zero.Scale(math.Sqrt(math.Max(0, r*r-a*a))))
}

// pixel is where the photo shows a position of the view.
func (v *view) pixel(x, y float64) (px, py float64, ok bool) { return v.cam.Project(v.point(x, y)) }

// sheet is a view filled from the photo.
type sheet struct {
	*view
	Pic     raster.BGR // as photographed
	L, A, B raster.Float
	Seen    raster.Mask // in the photo, and not behind card or tag
	frameW  int         // size of the photo, px
	frameH  int
}

// fill samples the photo. lab may be nil where only the picture is wanted; blocked are polygons in photo px that hide
// the wall (card, tag).
func (v *view) fill(img raster.BGR, lab *labCube, blocked [][][2]float64) *sheet {
	s := &sheet{view: v, Pic: raster.NewBGR(v.W, v.H), Seen: raster.NewMask(v.W, v.H), frameW: img.W, frameH: img.H}
	if lab != nil {
		s.L, s.A, s.B = raster.NewFloat(v.W, v.H), raster.NewFloat(v.W, v.H), raster.NewFloat(v.W, v.H)
	}
	fine := v.supersample()
	hidden := newScreen(blocked)
	at := newPlaces(img, v.W)
	for y := range v.H {
		line := v.row(y)
		at.clear()
		for x := line.from; x < line.to; x++ {
			px, py, ok := line.pixel(x)
			if ok && px >= 1 && py >= 1 && px <= float64(img.W-3) && py <= float64(img.H-3) && !hidden.hides(px, py) {
				at.add(x, px, py)
			}
		}
		colours, column := at.sample(fine), at.columns()
		for n, x := range column {
			i := y*v.W + x
			c := &colours[n]
			s.Seen.Pix[i] = 1
			p := s.Pic.Pix[3*i : 3*i+3 : 3*i+3]
			p[0], p[1], p[2] = uint8(c[0]+0.5), uint8(c[1]+0.5), uint8(c[2]+0.5)
		}
		if lab == nil {
			continue
		}
		at.lab(lab, colours)
		for n, x := range column {
			i := y*v.W + x
			s.L.Pix[i], s.A.Pix[i], s.B.Pix[i] = colours[n][0], colours[n][1], colours[n][2]
		}
	}
	return s
}

// viewRow is a row of a view made ready for projecting its columns from..to-1 one after another: the point of a column
// is a sum of three vectors, so that the camera's rotation is applied to them once for the row.
type viewRow struct {
	from, to         int
	cam              *wall.Camera
	mid, step, r     float64  // column of azimuth 0, mm per px, the wall's radius
	frontal          bool     // the columns are evenly spaced along the chord, else along the wall
	base, side, zero wall.Vec // camera frame: the axis at this depth, and the frame's directions
	arc              []turned // unrolled: by columns from the middle
}

// behindLens is the distance before the camera, mm, from which on nothing is seen.
const behindLens = 1e-9

// turned is the sine and cosine of an azimuth.
type turned struct{ sin, cos float64 }

// arcOf turns by step rad n times: each is the last turned on, which over a thousand steps is right to 1e-13.
func arcOf(step float64, n int) []turned {
	out := make([]turned, n)
	s, c := math.Sincos(step)
	at := turned{0, 1}
	for i := range out {
		out[i] = at
		at = turned{at.sin*c + at.cos*s, at.cos*c - at.sin*s}
	}
	return out
}

func (v *view) row(y int) viewRow {
	depth := float64(y) * v.Step / v.slant
	l := viewRow{to: v.W, cam: &v.cam, mid: v.Mid, step: v.Step, r: v.s.Radius(depth), frontal: v.frontal,
		base: v.cam.Place(v.f.Rim.Add(v.axis.Scale(depth))), side: v.cam.Turn(v.side), zero: v.cam.Turn(v.zero)}
	if !v.frontal {
		reach := int(drawnAzimuth * l.r / v.Step)
		l.arc = arcOf(v.Step/l.r, reach+1)
		l.from, l.to = max(0, int(v.Mid)-reach), min(v.W, int(v.Mid)+reach+1)
	}
	return l
}

// pixel is view.pixel of a column.
func (l *viewRow) pixel(x int) (px, py float64, ok bool) {
	var a, b float64 // mm along side and zero
	switch d := x - int(l.mid); {
	case l.frontal:
		a = (float64(x) - l.mid) * l.step
		b = math.Sqrt(max(0, l.r*l.r-a*a))
	case d < 0:
		a, b = -l.r*l.arc[-d].sin, l.r*l.arc[-d].cos
	default:
		a, b = l.r*l.arc[d].sin, l.r*l.arc[d].cos
	}
	z := l.base[2] + a*l.side[2] + b*l.zero[2]
	if z <= behindLens {
		return 0, 0, false
	}
	z = 1 / z
	return l.cam.Fx*(l.base[0]+a*l.side[0]+b*l.zero[0])*z + l.cam.Cx, l.cam.Fy*(l.base[1]+a*l.side[1]+b*l.zero[1])*z + l.cam.Cy, true
}

// finerPx is how many photo px a step of the view must be to be finer: up to a pixel's diagonal one sample between four pixels misses nothing.
const finerPx = 1.4

// supersample is the half distance, photo px, of the two samples across the diagonal that are averaged where the photo is
// finer than the view; 0 where it is not.
func (v *view) supersample() float64 {
	u0, v0, ok0 := v.pixel(v.Mid, 0.5*float64(v.H))
	u1, v1, ok1 := v.pixel(v.Mid, 0.5*float64(v.H)+1)
	if !ok0 || !ok1 {
		return 0
	}
	if px := math.Hypot(u1-u0, v1-v0); px > finerPx {
		return px / 4
	}
	return 0
}
