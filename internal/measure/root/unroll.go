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
	outside       = 1.15 // the frontal view reaches this share of the radius: past the wall, to the backdrop
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
}

// fill samples the photo. lab may be nil where only the picture is wanted; blocked are polygons in photo px that hide
// the wall (card, tag).
func (v *view) fill(img raster.BGR, lab *labCube, blocked [][][2]float64) *sheet {
	s := &sheet{view: v, Pic: raster.NewBGR(v.W, v.H), Seen: raster.NewMask(v.W, v.H)}
	if lab != nil {
		s.L, s.A, s.B = raster.NewFloat(v.W, v.H), raster.NewFloat(v.W, v.H), raster.NewFloat(v.W, v.H)
	}
	fine := v.supersample()
	hidden := boxOf(blocked)
	for y := range v.H {
		line := v.row(y)
		for x := line.from; x < line.to; x++ {
			px, py, ok := line.pixel(x)
			if !ok || px < 1 || py < 1 || px > float64(img.W-3) || py > float64(img.H-3) {
				continue
			}
			if hidden.holds(px, py) && within(blocked, px, py) {
				continue
			}
			i := y*v.W + x
			b, g, r := sample(img, px, py, fine)
			s.Seen.Pix[i] = 1
			p := s.Pic.Pix[3*i : 3*i+3 : 3*i+3]
			p[0], p[1], p[2] = uint8(b+0.5), uint8(g+0.5), uint8(r+0.5)
			if lab != nil {
				s.L.Pix[i], s.A.Pix[i], s.B.Pix[i] = lab.at(b, g, r)
			}
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
	turn             float64  // unrolled: azimuth per column, rad
}

func (v *view) row(y int) viewRow {
	depth := float64(y) * v.Step / v.slant
	l := viewRow{to: v.W, cam: &v.cam, mid: v.Mid, step: v.Step, r: v.s.Radius(depth), frontal: v.frontal,
		base: v.cam.Place(v.f.Rim.Add(v.axis.Scale(depth))), side: v.cam.Turn(v.side), zero: v.cam.Turn(v.zero)}
	l.turn = v.Step / l.r
	if !v.frontal {
		reach := int(drawnAzimuth * l.r / v.Step)
		l.from, l.to = max(0, int(v.Mid)-reach), min(v.W, int(v.Mid)+reach+1)
	}
	return l
}

// pixel is view.pixel of a column.
func (l *viewRow) pixel(x int) (px, py float64, ok bool) {
	d := float64(x) - l.mid
	var a, b float64 // mm along side and zero
	if l.frontal {
		a = d * l.step
		b = math.Sqrt(max(0, l.r*l.r-a*a))
	} else {
		sin, cos := math.Sincos(d * l.turn)
		a, b = l.r*sin, l.r*cos
	}
	z := l.base[2] + a*l.side[2] + b*l.zero[2]
	if z <= 1e-9 {
		return 0, 0, false
	}
	z = 1 / z
	return l.cam.Fx*(l.base[0]+a*l.side[0]+b*l.zero[0])*z + l.cam.Cx, l.cam.Fy*(l.base[1]+a*l.side[1]+b*l.zero[1])*z + l.cam.Cy, true
}

// bound is the rectangle about all of some polygons.
type bound struct{ x0, y0, x1, y1 float64 }

func boxOf(polys [][][2]float64) bound {
	b := bound{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range polys {
		for _, q := range p {
			b.x0, b.y0, b.x1, b.y1 = min(b.x0, q[0]), min(b.y0, q[1]), max(b.x1, q[0]), max(b.y1, q[1])
		}
	}
	return b
}

func (b *bound) holds(x, y float64) bool { return x >= b.x0 && x <= b.x1 && y >= b.y0 && y <= b.y1 }

// supersample is the half distance, photo px, of the two samples across the diagonal that are averaged where the photo is
// finer than the view; 0 where it is not.
func (v *view) supersample() float64 {
	u0, v0, ok0 := v.pixel(v.Mid, 0.5*float64(v.H))
	u1, v1, ok1 := v.pixel(v.Mid, 0.5*float64(v.H)+1)
	if !ok0 || !ok1 {
		return 0
	}
	if px := math.Hypot(u1-u0, v1-v0); px > 1.4 {
		return px / 4
	}
	return 0
}

func sample(img raster.BGR, u, v, fine float64) (b, g, r float32) {
	if fine == 0 {
		return bilinear(img, u, v)
	}
	b0, g0, r0 := bilinear(img, u-fine, v-fine)
	b1, g1, r1 := bilinear(img, u+fine, v+fine)
	return (b0 + b1) / 2, (g0 + g1) / 2, (r0 + r1) / 2
}

func bilinear(img raster.BGR, u, v float64) (b, g, r float32) {
	x, y := min(max(int(u), 0), img.W-2), min(max(int(v), 0), img.H-2)
	fx, fy := float32(u-float64(x)), float32(v-float64(y))
	i := 3 * (y*img.W + x)
	j := i + 3*img.W
	p, q := img.Pix[i:i+6:i+6], img.Pix[j:j+6:j+6]
	b0, b1 := float32(p[0]), float32(q[0])
	g0, g1 := float32(p[1]), float32(q[1])
	r0, r1 := float32(p[2]), float32(q[2])
	b0, b1 = b0+fx*(float32(p[3])-b0), b1+fx*(float32(q[3])-b1)
	g0, g1 = g0+fx*(float32(p[4])-g0), g1+fx*(float32(q[4])-g1)
	r0, r1 = r0+fx*(float32(p[5])-r0), r1+fx*(float32(q[5])-r1)
	return b0 + fy*(b1-b0), g0 + fy*(g1-g0), r0 + fy*(r1-r0)
}

// within says whether the point lies in one of the polygons (even-odd rule).
func within(polys [][][2]float64, u, v float64) bool {
	for _, p := range polys {
		in := false
		for i, j := 0, len(p)-1; i < len(p); j, i = i, i+1 {
			if (p[i][1] > v) != (p[j][1] > v) && u < (p[j][0]-p[i][0])*(v-p[i][1])/(p[j][1]-p[i][1])+p[i][0] {
				in = !in
			}
		}
		if in {
			return true
		}
	}
	return false
}
