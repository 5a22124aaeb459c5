package part

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// stand is one photo of a part that lies in a plane of its own: what the measuring is told, and the way from that plane to the
// photo, by the camera that took it. Everything is drawn from what the budget declares.
type stand struct {
	in  Input
	own geom.Homography // mm in the part's plane -> px
}

// stands draws a photo of the part: u along its direction, v to its right, (0, 0) its middle. The part leans along its direction or
// across it.
func (m simulated) stands(t *testing.T, s Settings, across bool) stand {
	r := m.rng
	cam := geom.Camera{F: 2400, CX: 999.5, CY: 749.5}
	cam.R = geom.Rodrigues(geom.Vec3{m.view[0] + anew*r.NormFloat64(), m.view[1] + anew*r.NormFloat64(), 0.05 * r.NormFloat64()})
	dist := 600 * math.Exp(0.05*r.NormFloat64())
	cam.T = geom.Vec3{20 * r.NormFloat64(), 20 * r.NormFloat64(), dist}
	lean := m.slope + 2*math.Pi/180*r.NormFloat64()
	mid := geom.Vec3{-60 + 15*r.NormFloat64(), 20 + 15*r.NormFloat64(), -(m.depth + s.DepthShotMM*(2*r.Float64()-1))}
	c, sn := math.Cos(m.direction), math.Sin(m.direction)
	u, v := geom.Vec3{c, sn, 0}, geom.Vec3{-sn, c, 0}
	if across {
		v = geom.Vec3{v[0] * math.Cos(lean), v[1] * math.Cos(lean), -math.Sin(lean)}
	} else {
		u = geom.Vec3{u[0] * math.Cos(lean), u[1] * math.Cos(lean), -math.Sin(lean)}
	}
	a, b, o := cam.R.Vec(u), cam.R.Vec(v), cam.R.Vec(mid)
	var own geom.Homography
	for i := range 3 {
		col := [3]float64{a[i], b[i], o[i] + cam.T[i]}
		for j := range 3 {
			own[3*i+j] = col[j]
		}
	}
	for j := range 3 { // the camera's own matrix before it
		own[j] = cam.F*own[j] + cam.CX*own[6+j]
		own[3+j] = cam.F*own[3+j] + cam.CY*own[6+j]
	}
	h := cam.Plane(0)
	for _, i := range []int{0, 1, 3, 4, 6, 7} { // the print is larger than it says
		h[i] *= m.print
	}
	plane, err := NewPlane(h)
	require.NoError(t, err)
	return stand{Input{Img: raster.BGR{W: 2000, H: 1500}, Surface: plane, EdgeSpreadPx: 2.05, DistanceMM: dist, Eye: cam.Centre(), PrintRelU: 0.01}, own}
}

// click is where a hand sets a point of the part.
func (m simulated) click(st stand, p geom.MM) geom.PX {
	q := st.own.Px(p)
	return geom.PX{X: q.X + simClickPx*m.rng.NormFloat64(), Y: q.Y + simClickPx*m.rng.NormFloat64()}
}

// holds counts how often intervals hold, and takes the share.
type holds struct{ in, n int }

func (h *holds) take(q record.Quantity, truth float64) {
	h.n++
	if math.Abs(q.Value-truth) <= q.U95 {
		h.in++
	}
}

func (h *holds) check(t *testing.T, what string) {
	t.Helper()
	share := float64(h.in) / float64(h.n)
	t.Logf("%s: the interval holds in %.1f %% of %d", what, 100*share, h.n)
	assert.Greater(t, share, 0.93, what)
	assert.Less(t, share, 0.97, what)
}

// The intervals of bend and angle hold in 93 to 97 of 100 simulated photos. The angle's truth is against the plumb line: the card
// stands out of upright by as much as is declared.
func TestBendAndAngleIntervalsHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 13))
	s := DefaultSettings()
	var bend, angle holds
	for bend.n < 4000 {
		m := newSimulated(rng, s)
		st := m.stands(t, s, bend.n%2 == 0)
		// An arc: over two thirds of its length, from the middle of its first third to that of its last, it turns by its bend.
		turn := (5 + 45*rng.Float64()) * math.Pi / 180
		all := turn * 1.5
		var px []geom.PX
		for i := range 5 {
			a := all * (float64(i)/4 - 0.5)
			px = append(px, m.click(st, geom.MM{X: m.lengthMM / all * math.Sin(a), Y: m.lengthMM / all * (1 - math.Cos(a))}))
		}
		r, err := Measure(st.in, Line{Points: px, NoSnap: true, Zoom: handPx / simClickPx, Bend: true}, s)
		if err != nil { // out of the frame
			continue
		}
		bend.take(r.Quantities[0], turn*180/math.Pi)
		if bend.n%2 == 1 { // what leans across a straight line does not turn it
			st = m.stands(t, s, false)
		}
		foot, tip := m.click(st, geom.MM{X: -m.lengthMM / 2}), m.click(st, geom.MM{X: m.lengthMM / 2})
		r, err = Measure(st.in, Line{Points: []geom.PX{foot, tip}, NoSnap: true, Zoom: handPx / simClickPx, Angle: true}, s)
		if err != nil {
			continue
		}
		q := r.Quantities[0]
		truth := math.Mod(m.direction*180/math.Pi+90+s.CardUpDeg*(2*rng.Float64()-1)+720, 360)
		q.Value = truth + math.Mod(q.Value-truth+540, 360) - 180
		angle.take(q, truth)
	}
	bend.check(t, "bend")
	angle.check(t, "angle")
}

// drawn paints a part with straight edges of a width along u, as a camera sees it: light mixed at the edges as the lens blurs it,
// then noise.
func (m simulated) drawn(t *testing.T, st stand, img raster.BGR, widthMM float64) raster.BGR {
	back, err := st.own.Inverse()
	require.NoError(t, err)
	mid := st.own.Px(geom.MM{})
	const sigma = 0.8 // px, which is an edge of 2.05 px from 10 to 90 %
	half := int(math.Ceil(2.6*widthMM)) + 50
	inside, outside := [3]float64{0.06, 0.20, 0.16}, [3]float64{0.30, 0.31, 0.32} // linear light: a leaf's green, a grey backdrop
	for y := int(mid.Y) - half; y <= int(mid.Y)+half; y++ {
		for x := int(mid.X) - half; x <= int(mid.X)+half; x++ {
			if x < 0 || y < 0 || x >= img.W || y >= img.H {
				continue
			}
			p, q := back.MM(geom.PX{X: float64(x), Y: float64(y)}), back.MM(geom.PX{X: float64(x) + 1, Y: float64(y)})
			r := back.MM(geom.PX{X: float64(x), Y: float64(y) + 1})
			perPx := math.Hypot(q.Y-p.Y, r.Y-p.Y) // mm across the edge a px
			share := 0.5 * math.Erfc((math.Abs(p.Y)-widthMM/2)/perPx/sigma/math.Sqrt2)
			for c := range 3 {
				v := 255*encoded(share*inside[c]+(1-share)*outside[c]) + 2*m.rng.NormFloat64()
				img.Pix[3*(y*img.W+x)+c] = uint8(math.Max(0, math.Min(255, math.Round(v))))
			}
		}
	}
	return img
}

// encoded is the sRGB transfer function (IEC 61966-2-1).
func encoded(l float64) float64 {
	if l <= 0.0031308 {
		return 12.92 * l
	}
	return 1.055*math.Pow(l, 1/2.4) - 0.055
}

// The interval of a width that is drawn to the edges holds in 93 to 97 of 100 simulated photos, and clicks that are off by
// some px move it by next to nothing.
func TestWidthIntervalsHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 19))
	s := DefaultSettings()
	var width holds
	img := raster.NewBGR(2000, 1500)
	found, tried := 0, 0
	for width.n < 400 {
		m := newSimulated(rng, s)
		st := m.stands(t, s, true) // along the width
		mm := 14 + 20*rng.Float64()
		mid := st.own.Px(geom.MM{})
		if mid.X < 200 || mid.Y < 200 || mid.X > 1800 || mid.Y > 1300 {
			continue
		}
		st.in.Img = m.drawn(t, st, img, mm)
		ends := []geom.PX{m.click(st, geom.MM{X: 1, Y: -mm / 2}), m.click(st, geom.MM{X: -1, Y: mm / 2})}
		r, err := Measure(st.in, Line{Points: ends, Zoom: handPx / simClickPx, Width: true}, s)
		require.NoError(t, err)
		tried++
		if r.FoundShare == 1 {
			found++
		}
		width.take(r.Quantities[0], mm)
	}
	assert.Greater(t, float64(found)/float64(tried), 0.98, "edges are found")
	width.check(t, "width")
}

// On a pot's wall a line is as long as on the wall rolled flat: along the wall's slant from rim to base, and round it at one depth
// by the radius there times the angle. The points in the photo are found by the camera alone.
func TestLinesOnAWall(t *testing.T) {
	cam := wall.Camera{Fx: 2400, Fy: 2400, Cx: 999.5, Cy: 749.5, R: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: [3]float64{10, -50, 620}}
	pot := wall.Frustum{Rim: wall.Vec{0, 0, 60}, Base: wall.Vec{0, 120, 60}, RRim: 60, RBase: 48}
	on := NewWall(cam, pot)
	facing := pot.Facing(cam.Centre())
	px := func(az, y float64) geom.PX {
		u, v, ok := cam.Project(facing.Point(az, y))
		require.True(t, ok)
		return geom.PX{X: u, Y: v}
	}
	in := Input{Img: raster.BGR{W: 2000, H: 1500}, Surface: on, OnWall: true, EdgeSpreadPx: 2, DistanceMM: 620, PrintRelU: 0.01}
	measure := func(points ...geom.PX) record.Quantity {
		r, err := Measure(in, Line{Points: points, NoSnap: true, Length: true}, DefaultSettings())
		require.NoError(t, err)
		return r.Quantities[0]
	}
	var down, round []geom.PX
	for i := range 9 {
		f := float64(i) / 8
		down = append(down, px(0.3, 20+80*f))
		round = append(round, px(-0.8+1.6*f, 60))
	}
	slant := 80 * math.Hypot(120, 12) / 120
	assert.InDelta(t, slant, measure(down...).Value, 0.01, "down the wall")
	radius := 60 - 12*60.0/120
	assert.InDelta(t, radius*1.6, measure(round...).Value, 0.05, "round the wall")
	_, err := Measure(in, Line{Points: []geom.PX{px(0, 60), {X: 20, Y: 20}}, NoSnap: true, Length: true}, DefaultSettings())
	assert.ErrorIs(t, err, ErrOffWall)
	for _, term := range measure(down...).Terms {
		assert.NotContains(t, term.Name, "slope", "nothing on a wall leans out of it")
	}
}
