// Package register finds how a plant has moved from one photo to another: the card's plane makes both photos comparable in
// mm, distinct places of the plant are found again, and a similarity (shift, turn, size) that most of them agree on says
// where the plant is now. It says how sure that is; where it is not, nothing is to be built on it.
package register

import (
	"math"
	"math/rand/v2"
	"sort"

	"phototrack/internal/cv"
	"phototrack/internal/geom"
	"phototrack/internal/measure/part"
	"phototrack/internal/raster"
)

// View is one of the two photos.
type View struct {
	Img     raster.BGR
	Surface part.Surface
	Hidden  [][]geom.PX // card and tags: what is on them does not move with the plant
}

// Move takes places of the earlier photo's surface to the later one's: x' = A x - B y + X, y' = B x + A y + Y.
type Move struct{ A, B, X, Y float64 }

// At is where a place lies now.
func (m Move) At(p geom.MM) geom.MM {
	return geom.MM{X: m.A*p.X - m.B*p.Y + m.X, Y: m.B*p.X + m.A*p.Y + m.Y}
}

// Result is how the plant moved and how well that is known.
type Result struct {
	Move    Move
	Agree   int     // places that agree
	Of      int     // places that were found again
	RMSMM   float64 // of those that agree
	Sure    bool
	Because string // why it is not sure
}

const (
	pxPerMM   = 3.0  // of the sheets that are compared: as fine as the coarsest photo that is accepted is about
	maxSide   = 1100 // px of a sheet
	most      = 900  // features of a sheet
	ratio     = 0.85 // nearest over second nearest description (Lowe 2004 takes 0.8)
	farMM     = 70.0 // how far a plant may have been moved against its card
	turnDeg   = 25.0
	sizeOff   = 0.15 // how much larger or smaller it may look
	nearMM    = 1.6  // within which places agree
	leastSame = 10   // places that must agree
	leastPart = 0.25 // and their share of all that were found again
	rounds    = 600

	// Chosen by eye, as what stands above without a source; the lines that are carried over the sample series hold by them.
	featureSizeOff = 0.5  // natural logarithm: a feature may look so much larger or smaller
	samePlacePx    = 4.0  // features nearer to each other describe one place
	leastAgree     = 3    // a similarity through fewer places is no fit
	apartMM        = 5.0  // places closer to each other say nothing of turn and size
	leastSpanMM    = 20.0 // so far must the places that agree be spread, between their tenths
	midGrey        = 128.0
	greyADeviation = 45.0 // of the local contrast: two and a half deviations fill the range
	noiseGrey      = 4.0  // where there is no detail, noise is not drawn up to it
)

// Find registers two photos over a region of the earlier one's surface (mm), by distinct places or, where there are too few
// or they do not agree, by the plant's shape.
func Find(before, now View, from, to geom.MM) Result {
	r := byFeatures(before, now, from, to)
	if r.Sure {
		return r
	}
	return byShape(before, now, from, to)
}

func byFeatures(before, now View, from, to geom.MM) Result {
	a := before.sheet(geom.MM{X: from.X - 15, Y: from.Y - 15}, geom.MM{X: to.X + 15, Y: to.Y + 15})
	b := now.sheet(geom.MM{X: from.X - 15 - farMM/2, Y: from.Y - 15 - farMM/2}, geom.MM{X: to.X + 15 + farMM/2, Y: to.Y + 15 + farMM/2})
	fa, errA := cv.Features(a.gray, a.w, a.h, most)
	fb, errB := cv.Features(b.gray, b.w, b.h, most)
	if errA != nil || errB != nil {
		return Result{Because: "the plant could not be looked at"}
	}
	pairs := matches(a, b, fa, fb)
	r := Result{Of: len(pairs)}
	if len(pairs) < leastSame {
		r.Because = "too few places of the plant were found again"
		return r
	}
	best, agree := consensus(pairs)
	r.Move, r.Agree = best, len(agree)
	for _, k := range agree {
		q := best.At(pairs[k].a)
		r.RMSMM += (math.Pow(q.X-pairs[k].b.X, 2) + math.Pow(q.Y-pairs[k].b.Y, 2)) / float64(len(agree))
	}
	r.RMSMM = math.Sqrt(r.RMSMM)
	switch {
	case r.Agree < leastSame || float64(r.Agree) < leastPart*float64(r.Of):
		r.Because = "the places that were found again do not agree on where the plant is"
	case !spreadOut(pairs, agree):
		r.Because = "the places that agree lie too close together"
	default:
		r.Sure = true
	}
	return r
}

// sheet is a photo seen square on, grey, one byte a pixel.
type sheet struct {
	w, h int
	gray []uint8
	at   geom.MM // of pixel 0, 0
	step float64 // mm per px
}

func (v View) sheet(from, to geom.MM) sheet {
	s := sheet{at: from, step: 1 / pxPerMM}
	s.w, s.h = int((to.X-from.X)/s.step), int((to.Y-from.Y)/s.step)
	if side := max(s.w, s.h); side > maxSide {
		s.step *= float64(side) / maxSide
		s.w, s.h = int((to.X-from.X)/s.step), int((to.Y-from.Y)/s.step)
	}
	s.w, s.h = max(s.w, 1), max(s.h, 1)
	s.gray = make([]uint8, s.w*s.h)
	for y := range s.h {
		for x := range s.w {
			p, ok := v.Surface.PX(geom.MM{X: from.X + float64(x)*s.step, Y: from.Y + float64(y)*s.step})
			if !ok || p.X < 0 || p.Y < 0 || p.X >= float64(v.Img.W-1) || p.Y >= float64(v.Img.H-1) {
				continue
			}
			if v.hidden(p) {
				s.gray[y*s.w+x] = 128
				continue
			}
			s.gray[y*s.w+x] = grayAt(v.Img, p)
		}
	}
	s.even()
	return s
}

// even takes out slow changes of light and brings up faint texture: every pixel against the mean and spread about it. SIFT
// looks at contrast alone, and a leaf's texture is faint.
func (s *sheet) even() {
	const r = 12 // px, 4 mm
	n := (s.w + 1) * (s.h + 1)
	sum, sq := make([]float64, n), make([]float64, n) // summed areas
	for y := range s.h {
		row, row2 := 0.0, 0.0
		for x := range s.w {
			v := float64(s.gray[y*s.w+x])
			row, row2 = row+v, row2+v*v
			i := (y+1)*(s.w+1) + x + 1
			sum[i], sq[i] = sum[i-s.w-1]+row, sq[i-s.w-1]+row2
		}
	}
	out := make([]uint8, len(s.gray))
	for y := range s.h {
		y0, y1 := max(0, y-r), min(s.h, y+r+1)
		for x := range s.w {
			x0, x1 := max(0, x-r), min(s.w, x+r+1)
			area := func(t []float64) float64 {
				return (t[y1*(s.w+1)+x1] - t[y0*(s.w+1)+x1] - t[y1*(s.w+1)+x0] + t[y0*(s.w+1)+x0]) / float64((y1-y0)*(x1-x0))
			}
			m := area(sum)
			sd := math.Sqrt(math.Max(0, area(sq)-m*m))
			out[y*s.w+x] = uint8(math.Min(math.MaxUint8, math.Max(0, midGrey+greyADeviation*(float64(s.gray[y*s.w+x])-m)/(sd+noiseGrey))))
		}
	}
	s.gray = out
}

func (v View) hidden(p geom.PX) bool {
	for _, q := range v.Hidden {
		odd := false
		for i, j := 0, len(q)-1; i < len(q); j, i = i, i+1 {
			if (q[i].Y > p.Y) != (q[j].Y > p.Y) && p.X < (q[j].X-q[i].X)*(p.Y-q[i].Y)/(q[j].Y-q[i].Y)+q[i].X {
				odd = !odd
			}
		}
		if odd {
			return true
		}
	}
	return false
}

func grayAt(img raster.BGR, p geom.PX) uint8 {
	x0, y0 := int(p.X), int(p.Y)
	fx, fy := p.X-float64(x0), p.Y-float64(y0)
	at := func(i int) float64 {
		q := img.Pix[i : i+3 : i+3]
		return float64(29*uint32(q[0])+150*uint32(q[1])+77*uint32(q[2])) / 256
	}
	i := 3 * (y0*img.W + x0)
	j := i + 3*img.W
	return uint8((1-fy)*((1-fx)*at(i)+fx*at(i+3)) + fy*((1-fx)*at(j)+fx*at(j+3)) + 0.5)
}

// pair is a place in both photos, mm.
type pair struct{ a, b geom.MM }

// matches are features whose descriptions are near to each other's and to nobody else's, and that turned and grew no more
// than a plant does.
func matches(a, b sheet, fa, fb []cv.Feature) (out []pair) {
	place := func(s sheet, f *cv.Feature) geom.MM {
		return geom.MM{X: s.at.X + f.X*s.step, Y: s.at.Y + f.Y*s.step}
	}
	for i := range fa {
		p := place(a, &fa[i])
		first, second, best := math.Inf(1), math.Inf(1), -1
		for j := range fb {
			q := place(b, &fb[j])
			turn := math.Abs(math.Remainder(fa[i].AngleDeg-fb[j].AngleDeg, 360))
			if math.Hypot(p.X-q.X, p.Y-q.Y) > farMM || turn > turnDeg || math.Abs(math.Log(fa[i].Size*a.step/(fb[j].Size*b.step))) > featureSizeOff {
				continue
			}
			switch d := unlike(&fa[i], &fb[j]); {
			case d < first:
				if best < 0 || math.Hypot(fb[best].X-fb[j].X, fb[best].Y-fb[j].Y) > samePlacePx {
					second = first
				}
				first, best = d, j
			case d < second && math.Hypot(fb[best].X-fb[j].X, fb[best].Y-fb[j].Y) > samePlacePx:
				second = d
			}
		}
		if best >= 0 && first < ratio*ratio*second {
			out = append(out, pair{p, place(b, &fb[best])})
		}
	}
	return out
}

// unlike is the squared distance of two features' descriptions.
func unlike(a, b *cv.Feature) (d float64) {
	for k := range a.Desc {
		e := float64(a.Desc[k] - b.Desc[k])
		d += e * e
	}
	return d
}

// consensus is the similarity that most pairs agree on (RANSAC: Fischler & Bolles 1981; the draws are the same every time),
// fitted to those that do.
func consensus(pairs []pair) (best Move, agree []int) {
	rng := rand.New(rand.NewPCG(1981, 381))
	for range rounds {
		i, j := rng.IntN(len(pairs)), rng.IntN(len(pairs))
		m, ok := through(pairs[i], pairs[j])
		if !ok {
			continue
		}
		if in := within(pairs, m); len(in) > len(agree) {
			best, agree = m, in
		}
	}
	for range 3 {
		if len(agree) < leastAgree {
			return
		}
		m := fit(pairs, agree)
		in := within(pairs, m)
		if len(in) < len(agree) {
			return
		}
		best, agree = m, in
	}
	return
}

// through is the similarity that takes two places to two places.
func through(p, q pair) (m Move, ok bool) {
	ax, ay := q.a.X-p.a.X, q.a.Y-p.a.Y
	bx, by := q.b.X-p.b.X, q.b.Y-p.b.Y
	d := ax*ax + ay*ay
	if d < apartMM*apartMM {
		return m, false
	}
	m.A, m.B = (ax*bx+ay*by)/d, (ax*by-ay*bx)/d
	m.X, m.Y = p.b.X-m.A*p.a.X+m.B*p.a.Y, p.b.Y-m.B*p.a.X-m.A*p.a.Y
	return m, m.plausible()
}

func (m Move) plausible() bool {
	return math.Abs(math.Log(math.Hypot(m.A, m.B))) < sizeOff && math.Abs(math.Atan2(m.B, m.A)) < turnDeg*math.Pi/180
}

func within(pairs []pair, m Move) (in []int) {
	for i, p := range pairs {
		q := m.At(p.a)
		if math.Hypot(q.X-p.b.X, q.Y-p.b.Y) < nearMM {
			in = append(in, i)
		}
	}
	return
}

// fit is the least squares similarity of some pairs (Umeyama 1991, without reflection, in the plane).
func fit(pairs []pair, in []int) (m Move) {
	var ca, cb geom.MM
	n := float64(len(in))
	for _, i := range in {
		ca.X, ca.Y, cb.X, cb.Y = ca.X+pairs[i].a.X/n, ca.Y+pairs[i].a.Y/n, cb.X+pairs[i].b.X/n, cb.Y+pairs[i].b.Y/n
	}
	var d, sa, sb float64
	for _, i := range in {
		ax, ay, bx, by := pairs[i].a.X-ca.X, pairs[i].a.Y-ca.Y, pairs[i].b.X-cb.X, pairs[i].b.Y-cb.Y
		d, sa, sb = d+ax*ax+ay*ay, sa+ax*bx+ay*by, sb+ax*by-ay*bx
	}
	if d == 0 {
		return Move{A: 1, X: cb.X - ca.X, Y: cb.Y - ca.Y}
	}
	m.A, m.B = sa/d, sb/d
	m.X, m.Y = cb.X-m.A*ca.X+m.B*ca.Y, cb.Y-m.B*ca.X-m.A*ca.Y
	return
}

// spreadOut says whether the places that agree span enough of the plant to tell its turn: leastSpanMM or more between their tenths.
func spreadOut(pairs []pair, in []int) bool {
	var x, y []float64
	for _, i := range in {
		x, y = append(x, pairs[i].a.X), append(y, pairs[i].a.Y)
	}
	sort.Float64s(x)
	sort.Float64s(y)
	span := func(v []float64) float64 { return v[len(v)*9/10] - v[len(v)/10] }
	return math.Hypot(span(x), span(y)) > leastSpanMM
}
