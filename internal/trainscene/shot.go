package trainscene

import (
	"bytes"
	"image/jpeg"
	"math"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/record"
)

// Shot is the photo of a scene with card and tag as a camera's file, without EXIF, and what is true of it. Pixel centres lie at whole numbers.
type Shot struct {
	JPEG           []byte
	WidthPx        int
	HeightPx       int
	F35MM          float64        // 35 mm equivalent of the focal length, by the width of a 36 mm frame
	Plant          int            // the tag's number
	Card, Tag      []record.Point // the trimmed edge, px, from the top left corner clockwise
	CardSeen       float64        // the least share of one of its markers that is in the photo and not hidden
	MarkersSeen    int            // how many of the card's six markers are in the photo whole
	TagSeen        float64        // the same share of the tag, with the white round its marker
	TagPxPerMM     float64        // where the tag is
	TiltDeg        float64        // between the card's normal and the camera's axis
	DistanceMM     float64        // camera to the card's centre
	AreaMM2        float64        // visible leaf, projected perpendicular to the card
	DepthMM        float64        // mean distance of that before the card's plane, by area
	DepthSpreadMM  float64        // its standard deviation
	Class          []uint8        // of each pixel, as a label has them
	Colour         colour.Lab     // mean of the leaf's own colours, by area
	EdgeSpreadPx   float64        // width of an edge from 10 to 90 %, lens and sensor alone
	LeafAtTheFrame int            // pixels of leaf on the photo's border
}

// enlargement is how many times longer and wider a Shot is than a Sample's photo: 2400 px.
const enlargement = 2.5

// Whether the leaf's mean depth is as the program's settings declare it by default: half-widths of two even distributions
// (collection.DefaultSettings: depth_common_mm, depth_shot_mm).
const depthCommonMM, depthShotMM = 8, 5

// Shoot makes the photo of a seed's scene; ok is false where the scene has no card, or no leaf. The scene is that of Draw, but for the card, which stands
// as growers are asked to place it: square to the camera, and in the plane of the leaves as well as the settings say. Nothing else is moved.
func Shoot(seed uint64, upright bool, f *Film) (shot Shot, ok bool) {
	d := newDice(seed)
	c := compose(d, d.kind(), photoSize(upright), nil)
	if c.card == nil {
		return shot, false
	}
	own := newDice(^seed)
	c.turnCard(own)
	c.cardIntoTheLeaves(&f.f, own.in(-depthCommonMM, depthCommonMM)+own.in(-depthShotMM, depthShotMM))
	if own.chance(mostTags) {
		c.tagIntoView(&f.f)
	}
	c.enlarge(enlargement)
	for i := range c.sheets {
		q := &c.sheets[i]
		across, down := q.pxPerMM(&c.cam)
		q.m.mat = q.sheet.seenAt(across, down).material()
	}
	cv := f.f.shoot(&c.scene, d)
	shot.look(c, &f.f, cv)
	s := d.sensor()
	shot.EdgeSpreadPx = 2.563 * float64(s.psf)
	var file bytes.Buffer
	if err := jpeg.Encode(&file, s.expose(cv, d), &jpeg.Options{Quality: s.quality}); err != nil {
		panic(err) // a picture that no JPEG can hold: a mistake of this package
	}
	shot.JPEG = file.Bytes()
	return shot, shot.AreaMM2 > 0
}

// enlarge makes the picture so many times longer and wider. What is out of focus is so by more pixels.
func (o *composition) enlarge(times float32) {
	c := &o.cam
	c.f, c.cx, c.cy = c.f*times, c.cx*times, c.cy*times
	c.w, c.h = int(float32(c.w)*times), int(float32(c.h)*times)
	for i := range o.layers {
		o.layers[i].blurPx *= times
	}
	o.outline()
}

// offSquareRad is by how much, in either direction, the camera is not square to the card: a standard deviation (by eye; the rendered sets beside the
// checkout have tilts of 0 to 15 degrees).
const offSquareRad = 0.09

// turnCard turns the card about its middle so that it faces the camera nearly square, and gives it right angles: one that leans and is turned was drawn
// with its sides off square by the product of both.
func (o *composition) turnCard(d dice) {
	k := &o.sheets[0]
	mid := k.o.add(k.a.mul(0.5)).add(k.b.mul(0.5))
	n := o.cam.ahead.mul(-1)
	across := k.a.sub(n.mul(n.dot(k.a))).unit()
	n = n.about(across, d.near(0, offSquareRad))
	down := across.cross(n)
	turn := d.near(0, offSquareRad)
	across, n = across.about(down, turn), n.about(down, turn)
	k.a, k.b = across.mul(card.WidthMM), across.cross(n).mul(card.HeightMM)
	k.o = mid.sub(k.a.mul(0.5)).sub(k.b.mul(0.5))
	flat := k.rectangle.mesh(6, 5, k.m.mat, k.m.class)
	k.m.v = flat.v
	for _, m := range k.stand { // out of the way of the turned card
		m.place(1, 0, n.mul(-0.4*card.HeightMM))
	}
}

// normal is the unit vector that stands on the sheet, towards who reads it.
func (r rectangle) normal() vec { return r.b.cross(r.a).unit() }

// cardIntoTheLeaves moves the card along its normal so that the visible leaves lie so far before its plane on average.
func (o *composition) cardIntoTheLeaves(f *film, beforeMM float32) {
	near := o.layers[len(o.layers)-1].m
	k := &o.sheets[0]
	f.room(o.cam.w * o.cam.h)
	for range 3 { // what the card hides changes with its place
		seen := f.project(&o.cam, near)
		e := extentOf(f, &o.scene, seen, k.rectangle, false)
		if e.area == 0 {
			return
		}
		by := k.normal().mul(float32(e.depth/e.area) - beforeMM)
		k.o = k.o.add(by)
		for _, m := range append(k.stand, k.m) {
			m.place(1, 0, by)
		}
	}
	o.outline()
}

// mostTags is the share of photos for which the grower has seen to it that nothing hides the tag. In the others leaves may.
const mostTags = 0.75

// tagIntoView brings the tag towards the camera, along its line of sight, until nothing is before it.
func (o *composition) tagIntoView(f *film) {
	near := o.layers[len(o.layers)-1].m
	g := &o.sheets[1]
	const stepMM, most = 15, 25
	for range most {
		f.project(&o.cam, near)
		if o.shareSeen(f, *g, [2]float64{}, card.TagWidthMM) == 1 {
			break
		}
		by := o.cam.at.sub(g.o).unit().mul(stepMM)
		g.o = g.o.add(by)
		g.m.place(1, 0, by)
	}
	o.outline()
}

// pxPerMM is how large a sheet's middle is seen, across and down.
func (r rectangle) pxPerMM(c *camera) (across, down float32) {
	mid := r.o.add(r.a.mul(0.5)).add(r.b.mul(0.5))
	x0, y0, _ := c.see(mid)
	long := func(v vec) float32 {
		x, y, _ := c.see(mid.add(v.unit()))
		return sqrt((x-x0)*(x-x0) + (y-y0)*(y-y0))
	}
	return long(r.a), long(r.b)
}

// extent sums up what shows of the leaf.
type extent struct {
	area, depth, square float64
	lab                 colour.Lab // of the surface itself; summed up only where it is asked for
}

// extentOf sums up the leaf that the camera sees, of the layer that was projected last, against the plane of a card: for each pixel the area of the
// surface within it, projected perpendicular to that plane (Z^2 / f^2 over the cosine to the ray, times the cosine to the card's normal).
func extentOf(f *film, s *scene, seen []projected, plane rectangle, colours bool) (e extent) {
	c := &s.cam
	n := plane.normal()
	const grazing = 1e-3 // the cosine below which a surface is seen edge-on: nothing of it shows
	for i := range c.w * c.h {
		if f.of[i] < 0 || seen[f.of[i]].class != leaf {
			continue
		}
		m := &seen[f.of[i]]
		t := m.t[f.tri[i]]
		a, b, q := m.v[t[0]].p, m.v[t[1]].p, m.v[t[2]].p
		face := b.sub(a).cross(q.sub(a)).unit()
		ray := c.ray(float32(i%c.w), float32(i/c.w))
		cos := abs(face.dot(ray))
		if cos < grazing {
			continue
		}
		z := 1 / f.depth[i]
		p := c.at.add(ray.mul(z))
		area := float64(z*z/(c.f*c.f)/cos) * float64(abs(face.dot(n)))
		depth := float64(p.sub(plane.o).dot(n))
		e.area += area
		e.depth += area * depth
		e.square += area * depth * depth
		if colours {
			k := labOf(m, t, p)
			e.lab.L, e.lab.A, e.lab.B = e.lab.L+area*k.L, e.lab.A+area*k.A, e.lab.B+area*k.B
		}
	}
	return e
}

// labOf is the colour of a mesh's surface at the place p of a triangle.
func labOf(m *projected, t [3]int32, p vec) colour.Lab {
	v0, v1, v2 := &m.v[t[0]], &m.v[t[1]], &m.v[t[2]]
	x, y, q := v1.p.sub(v0.p), v2.p.sub(v0.p), p.sub(v0.p)
	xx, xy, yy, qx, qy := x.dot(x), x.dot(y), y.dot(y), q.dot(x), q.dot(y)
	det := xx*yy - xy*xy
	b1, b2 := (yy*qx-xy*qy)/det, (xx*qy-xy*qx)/det
	b0 := 1 - b1 - b2
	k := m.mat(b0*v0.u+b1*v1.u+b2*v2.u, b0*v0.v+b1*v1.v+b2*v2.v, p).albedo
	return colour.RGB{float64(k[0]), float64(k[1]), float64(k[2])}.Lab()
}

// ray is the way from the camera through a pixel, one mm ahead.
func (c *camera) ray(x, y float32) vec {
	return c.ahead.add(c.right.mul((x - c.cx) / c.f)).sub(c.up.mul((y - c.cy) / c.f))
}

// look notes what is true of the scene that was shot last.
func (t *Shot) look(o *composition, f *film, cv *canvas) {
	c := &o.cam
	near := o.layers[len(o.layers)-1].m
	k := o.sheets[0]
	t.WidthPx, t.HeightPx, t.F35MM = c.w, c.h, float64(36*c.f)/float64(max(c.w, c.h))
	t.Card, t.Class = o.card, cv.class
	t.TiltDeg = math.Acos(float64(abs(k.normal().dot(c.ahead)))) * 180 / math.Pi
	t.DistanceMM = float64(k.o.add(k.a.mul(0.5)).add(k.b.mul(0.5)).sub(c.at).norm())
	seen := make([]projected, len(near))
	for i, m := range near {
		seen[i].mesh = m
	}
	e := extentOf(f, &o.scene, seen, k.rectangle, true)
	t.AreaMM2 = e.area
	t.DepthMM = e.depth / e.area
	t.DepthSpreadMM = math.Sqrt(max(0, e.square/e.area-t.DepthMM*t.DepthMM))
	t.Colour = colour.Lab{L: e.lab.L / e.area, A: e.lab.A / e.area, B: e.lab.B / e.area}
	t.CardSeen = 1
	for _, id := range card.MarkerIDs(card.SideLeaf) {
		q, _, _ := card.MarkerCornersMM(id)
		share := o.shareSeen(f, k, q[0], q[1][0]-q[0][0])
		t.CardSeen = min(t.CardSeen, share)
		if share == 1 {
			t.MarkersSeen++
		}
	}
	if len(o.sheets) > 1 {
		g := o.sheets[1]
		t.Tag, t.Plant = o.tags[0], g.number
		t.TagSeen = o.shareSeen(f, g, [2]float64{1.5, 1.5}, 25)
		across, down := g.pxPerMM(c)
		t.TagPxPerMM = float64(min(across, down))
	}
	for i, v := range cv.class {
		if x, y := i%c.w, i/c.w; v == leaf && (x == 0 || y == 0 || x == c.w-1 || y == c.h-1) {
			t.LeafAtTheFrame++
		}
	}
}

// shareSeen is the share of a square of a sheet, in mm of it, that shows in the photo.
func (o *composition) shareSeen(f *film, q printed, at [2]float64, side float64) float64 {
	const n = 12
	c := &o.cam
	near := o.layers[len(o.layers)-1].m
	seen := 0
	for i := range n * n {
		x, y := at[0]+side*(float64(i%n)+0.5)/n, at[1]+side*(float64(i/n)+0.5)/n
		u, v, inv := c.see(q.o.add(q.a.unit().mul(float32(x))).add(q.b.unit().mul(float32(y))))
		col, row := int(u+0.5), int(v+0.5)
		if inv == 0 || u < 0 || v < 0 || col >= c.w || row >= c.h {
			continue
		}
		if k := f.of[row*c.w+col]; k >= 0 && near[k] == q.m {
			seen++
		}
	}
	return float64(seen) / (n * n)
}

// seenAt is the sheet as pixels of a photo see it, each the mean of what it covers, where a mm is so many pixels across and down.
func (s *sheet) seenAt(acrossPxPerMM, downPxPerMM float32) *sheet {
	out := &sheet{w: s.w, h: s.h, pix: make([]rgb, len(s.pix))}
	copy(out.pix, s.pix)
	for y := range s.h {
		boxMeans(out.pix[y*s.w:], 1, s.w, sheetPxPerMM/acrossPxPerMM)
	}
	for x := range s.w {
		boxMeans(out.pix[x:], s.w, s.h, sheetPxPerMM/downPxPerMM)
	}
	return out
}

// boxMeans puts in the place of each of n values the mean over the length wide about it.
func boxMeans(v []rgb, step, n int, wide float32) {
	if wide <= 1 {
		return
	}
	sum := make([][3]float64, n+1) // of the values before each
	for i := range n {
		for k := range 3 {
			sum[i+1][k] = sum[i][k] + float64(v[i*step][k])
		}
	}
	upTo := func(x float64, k int) float64 {
		i := min(n-1, int(x))
		return sum[i][k] + (x-float64(i))*(sum[i+1][k]-sum[i][k])
	}
	for i := range n {
		mid, half := float64(i)+0.5, float64(wide)/2
		lo, hi := max(0, mid-half), min(float64(n), mid+half)
		for k := range 3 {
			v[i*step][k] = float32((upTo(hi, k) - upTo(lo, k)) / (hi - lo))
		}
	}
}
