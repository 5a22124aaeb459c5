package root

import (
	"math"
	"sort"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// potFit is a pot found in a photo.
type potFit struct {
	wall   wall.Frustum // inner face
	pot    record.Pot   // its sizes, given or found
	score  float64      // 0..1: mean strength of the edges that its outline predicts
	axisU  float64      // standard uncertainty of the axis across, mm
	depthU float64      // of the rim's height, mm
	sizeU  float64      // of the radius, mm
	guess  bool         // the size was found from the silhouette
	cutOff bool         // a pot that goes on beyond the photo's edge fits better
}

const (
	wallThickMM  = 0.4               // of common clear pots: the outline is the outer face's
	leastOutline = 0.33              // score below which there is no pot
	potShown     = 0.8               // of its height on the plane that is searched: what is cut by more has a gate of its own; by eye
	ringStep     = 0.05              // of the ring's diameter, from one place to the next
	ringPlaces   = 7                 // places to either side of a ring's front, a tenth of its radius apart, that are looked at; by eye
	startMM      = 8.0               // to either side of the first axis that another is looked for; by eye
	mostRoll     = 4 * math.Pi / 180 // by which a pot leans to the card's side at most: both stand on one bench; by eye
	sameFit      = 1e-9              // grey levels: what fits better by less fits alike
	ringMost     = 40.0              // grey levels of an edge along the rim beyond which it is no more of a rim; by eye
	footMost     = 25.0              // the same along the foot, which is mostly moulded; by eye
)

// plane is the photo's brightness resampled on the plane of the pot's axis, with its gradients; 1 px is 1 mm.
type plane struct {
	x0, y0 float64 // card mm of the first px
	w, h   int
	grey   []float32
	gx, gy []float32 // strength of vertical and of horizontal edges, 0..1
	ok     []bool
}

// newPlane covers what the photo shows of the axis plane (z = -offset of the card's frame), at most reach mm around the
// card.
func newPlane(img raster.BGR, cam wall.Camera, offset float64, blocked [][][2]float64) *plane {
	const left, right, above, below = 330.0, 480.0, 220.0, 330.0
	p := &plane{x0: -left, y0: -above, w: int(left + right), h: int(above + below)}
	n := p.w * p.h
	g := raster.NewFloat(p.w, p.h)
	p.ok = make([]bool, n)
	hidden := newScreen(blocked)
	at := newPlaces(img, p.w)
	right2, low := float64(img.W-4), float64(img.H-4)
	across := cam.Turn(wall.Vec{1}) // from one place of a row to the next, in the camera's frame
	for y := range p.h {
		at.clear()
		first := cam.Place(wall.Vec{p.x0, p.y0 + float64(y), -offset})
		for x := range p.w {
			n := float64(x)
			z := first[2] + n*across[2]
			if z <= behindLens {
				continue
			}
			z = 1 / z
			u, v := cam.Fx*(first[0]+n*across[0])*z+cam.Cx, cam.Fy*(first[1]+n*across[1])*z+cam.Cy
			if u >= 2 && v >= 2 && u <= right2 && v <= low && !hidden.hides(u, v) {
				at.add(y*p.w+x, u, v)
			}
		}
		column := at.columns()
		for n, v := range at.greys() {
			i := column[n]
			g.Pix[i], p.ok[i] = v, true
		}
	}
	p.grey = g.Pix
	p.gradients(g)
	return p
}

func (p *plane) gradients(g raster.Float) {
	n := p.w * p.h
	p.gx, p.gy = make([]float32, n), make([]float32, n)
	var all []float64
	for y := 2; y < p.h-2; y++ {
		for x := 2; x < p.w-2; x++ {
			i := y*p.w + x
			if !p.ok[i-2*p.w-2] || !p.ok[i+2*p.w+2] || !p.ok[i-2*p.w+2] || !p.ok[i+2*p.w-2] {
				continue
			}
			at := func(dx, dy int) float32 { return g.Pix[i+dy*p.w+dx] }
			sx := at(1, -1) + 2*at(1, 0) + at(1, 1) - at(-1, -1) - 2*at(-1, 0) - at(-1, 1)
			sy := at(-1, 1) + 2*at(0, 1) + at(1, 1) - at(-1, -1) - 2*at(0, -1) - at(1, -1)
			p.gx[i], p.gy[i] = float32(math.Abs(float64(sx))), float32(math.Abs(float64(sy)))
			if i%7 == 0 {
				all = append(all, float64(p.gx[i]))
			}
		}
	}
	if len(all) == 0 {
		return
	}
	sort.Float64s(all)
	limit := float32(math.Max(all[len(all)*96/100], 12)) // strong edges of leaves must not outvote long faint walls
	spread(p.gx, p.w, p.h, limit)
	spread(p.gy, p.w, p.h, limit)
}

// spread clips at limit, scales to 0..1 and takes the largest of 3 x 3. The values are not negative, so that their bits are in the order of the
// numbers: whole numbers compare several times faster, since no NaN is asked about.
func spread(g []float32, w, h int, limit float32) {
	bits := make([]uint32, len(g))
	for i, v := range g {
		bits[i] = math.Float32bits(v)
	}
	high := make([]uint32, w) // the largest of three rows
	most := math.Float32bits(limit)
	for y := 1; y < h-1; y++ {
		up, at, down := bits[(y-1)*w:][:w], bits[y*w:][:w], bits[(y+1)*w:][:w]
		for x := range high {
			high[x] = max(up[x], at[x], down[x])
		}
		row := g[y*w : (y+1)*w]
		for x := 1; x < w-1; x++ {
			row[x] = math.Float32frombits(min(max(high[x-1], high[x], high[x+1]), most)) / limit
		}
	}
}

func (p *plane) look(g []float32, x, y float64) float32 {
	u, v := int(x-p.x0+0.5), int(y-p.y0+0.5)
	if u < 0 || v < 0 || u >= p.w || v >= p.h {
		return 0
	}
	return g[v*p.w+u]
}

// outline is the silhouette of a pot of known size, projected on the axis plane, relative to the axis and the rim.
type outline struct {
	y    []float64 // rows of the sides, mm below the rim
	half []float64 // half width of the silhouette there
	ends [2]struct {
		y, r float64
	} // front of rim and foot
}

func newOutline(pot record.Pot, dist float64) outline {
	var o outline
	for i := range 30 {
		f := 0.10 + 0.82*float64(i)/29
		r := pot.TopMM/2 + f*(pot.BottomMM-pot.TopMM)/2 + wallThickMM
		o.y = append(o.y, f*pot.HeightMM)
		o.half = append(o.half, r/math.Sqrt(1-(r/dist)*(r/dist)))
	}
	o.ends[0].y, o.ends[0].r = 0, pot.TopMM/2
	o.ends[1].y, o.ends[1].r = pot.HeightMM, pot.BottomMM/2
	return o
}

// leastSide is the mean strength of a side's edges below which there is no such side.
const leastSide = 0.15

// sidesAlong is the mean strength of the edges of the left and of the right side for outlines with their rim at y and
// their axis from mm past the plane's border and every step px farther.
func (o *outline) sidesAlong(p *plane, y, from float64, step int) (sides [2][]float32) {
	n := int(math.Ceil((float64(p.w) - 2*from) / float64(step)))
	for s, to := range [2]float64{-1, 1} {
		sum := make([]float32, max(0, n))
		for i := range o.y {
			v := int(y + o.y[i] - p.y0 + 0.5)
			if v < 0 || v >= p.h {
				continue
			}
			row := p.gx[v*p.w : (v+1)*p.w]
			u := int(math.Floor(from + to*o.half[i] + 0.5))
			for k := range sum {
				if at := u + k*step; uint(at) < uint(len(row)) {
					sum[k] += row[at]
				}
			}
		}
		for k := range sum {
			sum[k] /= float32(len(o.y))
		}
		sides[s] = sum
	}
	return sides
}

// score says how well the outline sits with its axis at x and its rim at y, eye being the camera's centre.
func (o *outline) score(p *plane, eye wall.Vec, offset, x, y float64) float64 {
	n := float32(len(o.y))
	side := func(to float64) (sum float32) {
		for i := range o.y {
			sum += p.look(p.gx, x+to*o.half[i], y+o.y[i])
		}
		return sum / n
	}
	l := side(-1)
	if l < leastSide {
		return 0
	}
	r := side(1)
	if r < leastSide {
		return 0
	}
	a, b := o.ringsAt(p, eye, -eye[2]-offset, x, y)
	return float64(together(l, r, min(a, b)))
}

// together is the score, 0..1, of an outline with such edges at its sides and its rings: the weaker side counts most.
func together(left, right, rings float32) float32 {
	return (min(left, right) + 0.3*(left+right) + 0.8*rings) / 2.4
}

// ringsAt is the mean strength of level edges along the front of the rim and of the foot, seen from dist mm before the axis.
func (o *outline) ringsAt(p *plane, eye wall.Vec, dist, x, y float64) (rim, foot float32) {
	var e [2]float32
	for k, end := range o.ends {
		front := o.front(eye, dist, y, k)
		for i := -ringPlaces; i <= ringPlaces; i++ {
			e[k] += p.look(p.gy, x+ringStep*float64(i)*2*end.r, front) / (2*ringPlaces + 1)
		}
	}
	return e[0], e[1]
}

// front is where on the axis plane the front of a ring shows, for a rim at y: nearer to the camera, seen from above it appears lower.
func (o *outline) front(eye wall.Vec, dist, y float64, ring int) float64 {
	end := o.ends[ring]
	return eye[1] + (y+end.y-eye[1])*dist/(dist-end.r)
}

// findPot looks for a pot of the given size beside the card.
func findPot(img raster.BGR, cam wall.Camera, pot record.Pot, offset float64, blocked [][][2]float64) (potFit, bool) {
	p := newPlane(img, cam, offset, blocked)
	eye := cam.Centre()
	o := newOutline(pot, -eye[2]-offset)
	best, bx, by := -1.0, 0.0, 0.0
	try := func(x, y float64) {
		if s := o.score(p, eye, offset, x, y); s > best {
			best, bx, by = s, x, y
		}
	}
	r := pot.TopMM / 2
	for y := p.y0; y < p.y0+float64(p.h)-pot.HeightMM*potShown; y += 2 {
		sides := o.sidesAlong(p, y, r, 2)
		for k := range sides[0] {
			if min(sides[0][k], sides[1][k]) >= leastSide { // in most places there is none
				try(p.x0+r+2*float64(k), y)
			}
		}
	}
	for _, step := range []float64{1, 0.5} {
		cx, cy := bx, by
		for dy := -2.0; dy <= 2; dy++ {
			for dx := -2.0; dx <= 2; dx++ {
				try(cx+dx*step, cy+dy*step)
			}
		}
	}
	f := potFit{pot: pot, score: best, axisU: 0.4, depthU: 0.7, sizeU: 0.3, cutOff: best < surelyWhole && o.cutOff(p, eye, offset, r, best)}
	if best < leastOutline {
		return f, false
	}
	fit := &fineFit{img: img, cam: cam, pot: pot, offset: offset, blocked: newScreen(blocked)}
	v := fit.refine(fit.start([3]float64{bx, by, 0}))
	for _, wide := range [2]bool{true, false} { // the rim's height hangs on the axis and the axis, in a tapered pot, on the height
		v = fit.bestRim(v, wide)
	}
	x, y, roll := v[0], v[1], v[2]
	f.wall = frustumAt(pot, x, y, roll, offset)
	return f, true
}

// frustumAt puts a pot with its axis in the plane z = -offset of the card's frame: rim centre at (x, y), the axis turned
// by roll rad from the card's downward direction.
func frustumAt(pot record.Pot, x, y, roll, offset float64) wall.Frustum {
	s, c := math.Sincos(roll)
	// x is given at half height, where it is best known
	h := pot.HeightMM
	rim := wall.Vec{x - s*h/2, y, -offset}
	return wall.Frustum{Rim: rim, Base: rim.Add(wall.Vec{s * h, c * h, 0}), RRim: pot.TopMM / 2, RBase: pot.BottomMM / 2}
}

// fineFit moves the predicted outline over the photo itself.
type fineFit struct {
	img     raster.BGR
	cam     wall.Camera
	pot     record.Pot
	offset  float64
	blocked screen
}

// start looks for the axis a little to either side, where the sides of the outline fit best: what lies in the pot and a
// moulded foot may have drawn the first search aside.
func (f *fineFit) start(v [3]float64) [3]float64 {
	best, at := f.sides(v), v
	for dx := -startMM; dx <= startMM; dx++ {
		for roll := -2.0; roll <= 2; roll++ {
			w := v
			w[0] += dx
			w[2] += roll * math.Pi / 180
			if s, ok := f.sidesAbove(w, plainSide, best); ok {
				best, at = s, w
			}
		}
	}
	return at
}

// sidesWeight is what a grey level of the sides is worth in grey levels of the rings.
const sidesWeight = 3.0

// bestRim is the axis and the rim's height for which rings and sides together fit best: the top of the filling runs across
// like a rim, and the sides of a tapered pot tell the two apart. wide looks for the axis farther off.
func (f *fineFit) bestRim(v [3]float64, wide bool) [3]float64 {
	best, at := math.Inf(-1), v
	for _, r := range f.rims(v) {
		w := v
		w[1] = r.y
		if wide {
			w = f.start(w)
		}
		w = f.refine(w)
		if s := r.strength + sidesWeight*f.sides(w); s > best {
			best, at = s, w
		}
	}
	return at
}

// refine improves the axis and its roll by coordinate search; v is the axis at half height, the rim (mm), the roll (rad).
func (f *fineFit) refine(v [3]float64) [3]float64 {
	best := f.sides(v)
	steps := [3]float64{1, 0, 0.8 * math.Pi / 180}
	for range 5 {
		for moved := true; moved; {
			moved = false
			for _, k := range [2]int{0, 2} {
				for _, sign := range [2]float64{-1, 1} {
					w := v
					w[k] += sign * steps[k]
					if math.Abs(w[2]) > mostRoll {
						continue
					}
					if s, ok := f.sidesAbove(w, plainSide, best+sameFit); ok {
						best, v, moved = s, w, true
					}
				}
			}
		}
		for k := range steps {
			steps[k] /= 2
		}
	}
	return v
}

// plainSide is the step of brightness, grey levels, that is a plain edge of a side: more does not count.
const plainSide = 15

// sides is the mean step of brightness, clipped, across the outline's two sides, the weaker one counting most.
func (f *fineFit) sides(v [3]float64) float64 { return f.sidesClipped(v, plainSide) }

func (f *fineFit) sidesClipped(v [3]float64, clip float64) float64 {
	s, _ := f.sidesAbove(v, clip, math.Inf(-1))
	return s
}

// sidesAbove is sidesClipped where that is more than least; it stops, with false, as soon as it cannot be.
func (f *fineFit) sidesAbove(v [3]float64, clip, least float64) (float64, bool) {
	fr := frustumAt(f.pot, v[0], v[1], v[2], f.offset)
	eye := f.cam.Centre()
	s := fr.Inset(-wallThickMM).Facing(eye).Sheet()
	_, _, side := s.Frame()
	var sum [2]float64
	const n = 40
	for i := range n {
		y := f.pot.HeightMM * (0.08 + 0.86*float64(i)/(n-1))
		l, r, ok := s.Silhouette(eye, y)
		if !ok {
			return 0, 0 > least
		}
		sum[0] += math.Min(math.Abs(f.step(s.Point(l, y), side, 0.6)), clip) / n
		sum[1] += math.Min(math.Abs(f.step(s.Point(r, y), side, 0.6)), clip) / n
		rest := clip * float64(n-1-i) / n
		if twoSides(sum[0]+rest, sum[1]+rest) < least-1e-6 { // more than rounding
			return 0, false
		}
	}
	strength := twoSides(sum[0], sum[1])
	return strength, strength > least
}

// twoSides is what the strengths of two sides are worth: the weaker one counts most.
func twoSides(l, r float64) float64 { return math.Min(l, r) + 0.3*(l+r) }

// rims slides the front of the rim's ring up and down and lists the places where it may be, the likeliest first: its upper edge is where brightness changes all along the ring
// at once. The foot, which may be moulded, has to have some such edge a wall's height below. Steps are averaged with
// their sign before their size is taken, so that leaf edges and bark, which cross the ring anyhow, drop out.
func (f *fineFit) rims(v [3]float64) []ring {
	const reach, dy = 13.0, 0.25
	s := frustumAt(f.pot, v[0], v[1], v[2], f.offset).Facing(f.cam.Centre()).Sheet()
	axis, _, _ := s.Frame()
	along := func(y float64) float64 {
		var sum float64
		const n = 32
		for i := range n {
			sum += f.step(s.Point(0.8*(2*float64(i)/(n-1)-1), y), axis, 0.4) / n
		}
		return math.Abs(sum)
	}
	n := int(2*reach/dy) + 1
	const moulding = 3.5
	m := int(moulding / dy)
	foot := make([]float64, n+2*m)
	for i := range foot {
		foot[i] = along(f.pot.HeightMM - reach - moulding + float64(i)*dy)
	}
	at := make([]float64, n)
	for i := range at {
		d := -reach + float64(i)*dy
		var under float64
		for _, g := range foot[i : i+2*m+1] {
			under = math.Max(under, g)
		}
		at[i] = math.Min(along(d), ringMost) + 0.6*math.Min(under, footMost) - 0.3*math.Abs(d)
	}
	const near, most = 6, 4 // steps within which the stronger wins; places looked at
	var out []ring
	for i, e := range at {
		peak := true
		for k := max(0, i-near); k <= min(n-1, i+near); k++ {
			peak = peak && (at[k] < e || at[k] == e && k >= i)
		}
		if peak {
			out = append(out, ring{v[1] - reach + float64(i)*dy, e})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].strength > out[j].strength })
	return out[:min(len(out), most)]
}

// step is the change of brightness, grey levels, from d mm before p to d mm behind it along dir.
func (f *fineFit) step(p wall.Vec, dir wall.Vec, d float64) float64 {
	var g [2]float32
	for k, e := range [2]float64{-d, d} {
		u, v, ok := f.cam.Project(p.Add(dir.Scale(e)))
		if !ok || u < 1 || v < 1 || u > float64(f.img.W-3) || v > float64(f.img.H-3) || f.blocked.hides(u, v) {
			return 0
		}
		b, gg, r := bilinear(f.img, u, v)
		g[k] = 0.25*b + 0.5*gg + 0.25*r
	}
	return float64(g[1] - g[0])
}
