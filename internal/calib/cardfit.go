package calib

import (
	"errors"
	"math"
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/geom"
)

// ErrNoCard says that no marker of the card was seen; ErrFewMarkers that fewer than two lie where a card's would.
var (
	ErrNoCard     = errors.New("no scale card")
	ErrFewMarkers = errors.New("too few card markers")
)

// sighting is one card seen in the photo.
type sighting struct {
	side    card.Side
	markers map[int]Marker
	h       geom.Homography
}

func (s sighting) sizePx() float64 {
	var sum float64
	for _, id := range sortedIDs(s.markers) {
		sum += s.markers[id].SidePx()
	}
	return sum / float64(len(s.markers))
}

// chooseCard groups the markers into cards and returns the one to use: the one with most markers, the larger of two
// such; second says that markers of another card are left over. Each marker in turn is the seed of a card; the others
// of its side join where the growing homography expects them, the nearest first.
func chooseCard(ms []Marker) (best sighting, second bool, err error) {
	var onCard []Marker
	for _, m := range ms {
		if card.SideOf(m.ID) != card.NoSide {
			onCard = append(onCard, m)
		}
	}
	if len(onCard) == 0 {
		return best, false, ErrNoCard
	}
	for _, seed := range onCard {
		s := grow(seed, onCard)
		if len(s.markers) > len(best.markers) || len(s.markers) == len(best.markers) && len(s.markers) > 0 && s.sizePx() > best.sizePx() {
			best = s
		}
	}
	left := 0
	for _, m := range onCard {
		if o, ok := best.markers[m.ID]; !ok || dist(o.Corners[0], m.Corners[0]) > m.SidePx()/2 {
			left++
		}
	}
	if len(best.markers) < 2 {
		return best, left > 1, ErrFewMarkers
	}
	return best, left >= 2, nil
}

func grow(seed Marker, all []Marker) sighting {
	s := sighting{side: card.SideOf(seed.ID), markers: map[int]Marker{seed.ID: seed}}
	s.h = fitMarkers(s.markers)
	for {
		best, bestErr := Marker{}, math.Inf(1)
		for _, m := range all {
			if _, have := s.markers[m.ID]; have || card.SideOf(m.ID) != s.side {
				continue
			}
			if e := misfit(s.h, m) / m.SidePx(); e < bestErr {
				best, bestErr = m, e
			}
		}
		// One marker alone extrapolates poorly; two or more place their neighbours to a fraction of a cell.
		limit := 0.12
		if len(s.markers) == 1 {
			limit = 0.5
		}
		if bestErr > limit {
			return s
		}
		s.markers[best.ID] = best
		s.h = fitMarkers(s.markers)
	}
}

func misfit(h geom.Homography, m Marker) float64 {
	c, _, _ := card.MarkerCornersMM(m.ID)
	worst := 0.0
	for i := range 4 {
		worst = math.Max(worst, dist(h.Px(geom.MM{X: c[i][0], Y: c[i][1]}), m.Corners[i]))
	}
	return worst
}

func fitMarkers(ms map[int]Marker) geom.Homography {
	mm, px := cornersOf(ms)
	h, err := geom.FitHomography(mm, px, nil)
	if err != nil {
		return geom.Homography{math.NaN()}
	}
	return h
}

// sortedIDs gives the order in which sums over markers are made: in any other, their last bits would change from run to run.
func sortedIDs(ms map[int]Marker) []int {
	var ids []int
	for id := range ms {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

func cornersOf(ms map[int]Marker) (mm []geom.MM, px []geom.PX) {
	for _, id := range sortedIDs(ms) {
		c, _, _ := card.MarkerCornersMM(id)
		for i := range 4 {
			mm = append(mm, geom.MM{X: c[i][0], Y: c[i][1]})
			px = append(px, ms[id].Corners[i])
		}
	}
	return
}

// Print is what is known of the card's print: what a steel rule said of the 100 mm ruler across and of the 90 mm
// between the outer edges of the marker rows down, and how sure that is.
type Print struct {
	AcrossMM, DownMM float64 // 100 and 90 for a true print
	RelU             float64 // relative standard uncertainty of the print's scale
}

// TruePrint is a print whose sizes are those of the drawing, to the given relative standard uncertainty.
func TruePrint(relU float64) Print { return Print{100, 90, relU} }

// FocalPrior is what is known of the focal length before the card is looked at.
type FocalPrior struct {
	Px     float64
	RelU   float64
	Source string
}

// PriorFocal makes the focal length's prior from EXIF's 35 mm equivalent (0: not known) and the size of the photo.
// CIPA DCG-001 defines the equivalent by the diagonal (43.27 mm); many makers go by the width (36 mm), which on a 4:3
// frame is 4 % less. The prior lies half-way and reaches both, rounding and a little cropping (method: about 5 %).
// Without EXIF it may be a phone's main camera (24 to 28 mm), its twofold zoom (48 to 56 mm) or a camera's standard
// zoom (24 to 70 mm): the prior's 95 % reach from 18 to 70 mm.
func PriorFocal(f35 float64, w, h int) FocalPrior {
	long := float64(max(w, h))
	diag := math.Hypot(float64(w), float64(h))
	perMM := math.Sqrt(long / 36 * diag / 43.2666)
	if f35 >= 8 && f35 <= 1000 {
		return FocalPrior{f35 * perMM, 0.035, "35 mm equivalent in the photo"}
	}
	return FocalPrior{35 * perMM, 0.35, "typical of phones"}
}

// cardFit is the outcome of fitting camera, pose and print to the corners.
type cardFit struct {
	free       geom.Homography
	cam        geom.Camera
	aspect     float64 // print: x is longer by exp(aspect), y shorter, than the drawing
	bleedMM    float64 // how far the black of the markers reaches beyond the drawing on every side
	residualPx float64 // rms distance of the corners about the free homography
	outliers   int
	cov        [][]float64 // of the parameters of model
	p          []float64
	model      func(p []float64) (geom.Camera, float64)
	k1         float64 // radial distortion that the corners suggest, at the half diagonal
	k1U        float64
	bendMM     float64 // bow of the card over its width that the corners suggest
	bendU      float64
}

const (
	cornerFloorPx = 0.05 // corners agree no better than this: chroma subsampling and JPEG blocks move edges
	bleedPriorMM  = 0.15 // paper and overexposure spread light or ink by tenths of a mm
	huberPx       = 2.5
)

// fitCard fits pose, focal length (against its prior), the print's aspect and the bleed of its black to the corners.
// All four sides of a marker move together when black bleeds, so bleed and scale are told apart by the distances
// between markers. Corners that disagree (something lies on a marker) lose weight.
func fitCard(s sighting, prior FocalPrior, print Print, w, h int) (cardFit, error) {
	mm, px := cornersOf(s.markers)
	sx, sy := print.AcrossMM/100, print.DownMM/90
	out := make([]geom.PX, len(mm)) // outward signs of the corners, for bleed
	for i := range mm {
		sgn := [4]geom.PX{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}}[i%4]
		out[i] = sgn
		mm[i] = geom.MM{X: mm[i].X * sx, Y: mm[i].Y * sy}
	}
	var f cardFit
	weight := make([]float64, len(mm))
	for i := range weight {
		weight[i] = 1
	}
	// A free homography with bleed tells how well corners lie on a plane and which of them do not.
	free := func(p []float64, i int) geom.PX {
		g := geom.Homography{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}
		return g.Px(geom.MM{X: mm[i].X + p[8]*out[i].X, Y: mm[i].Y + p[8]*out[i].Y})
	}
	start, err := geom.FitHomography(mm, px, nil)
	if err != nil {
		return f, err
	}
	var fit geom.Fit
	p0 := append(append([]float64(nil), start[:8]...), 0)
	for range 3 {
		fit = geom.LM(p0, 2*len(mm)+1, func(p, r []float64) {
			for i := range mm {
				q := free(p, i)
				r[2*i], r[2*i+1] = weight[i]*(q.X-px[i].X), weight[i]*(q.Y-px[i].Y)
			}
			r[2*len(mm)] = p[8] / bleedPriorMM * 0.1
		}, 40)
		p0 = fit.P
		var res []float64
		for i := range mm {
			res = append(res, dist(free(fit.P, i), px[i]))
		}
		sorted := slices.Clone(res)
		slices.Sort(sorted)
		scale := math.Max(sorted[len(sorted)/2], cornerFloorPx)
		f.outliers = 0
		for i, r := range res {
			weight[i] = 1
			if r > huberPx*2*scale {
				weight[i] = huberPx * 2 * scale / r
				f.outliers++
			}
			if r > 10*scale {
				weight[i] = 0
			}
		}
	}
	var ss, sw float64
	for i := range mm {
		d := dist(free(fit.P, i), px[i])
		ss += weight[i] * d * d
		sw += weight[i]
	}
	f.residualPx = math.Sqrt(ss / sw)
	copy(f.free[:8], fit.P)
	f.free[8] = 1

	cx, cy := float64(w-1)/2, float64(h-1)/2
	cam0, err := geom.PoseFromHomography(f.free, prior.Px, cx, cy)
	if err != nil {
		return f, err
	}
	// Standard deviation of a corner's coordinate, with the degrees of freedom that the fit has used up.
	dof := math.Max(1, 2*sw-9)
	sigma := math.Max(cornerFloorPx, math.Sqrt(ss/dof))
	aspectU := math.Max(print.RelU/math.Sqrt2, 2e-4)
	mid := geom.MM{X: card.WidthMM / 2 * sx, Y: card.HeightMM / 2 * sy}
	full := func(p []float64) geom.Camera {
		c := cam0.Turned(geom.Vec3{p[0], p[1], p[2]}, geom.Vec3{})
		// Shift in units that leave the card where it is seen while distance and focal length trade against each other.
		e := math.Exp(p[6])
		c.F = prior.Px * e
		for i := range 3 {
			c.T[i] += p[3+i]
		}
		c.T[2] += (e - 1) * cam0.DepthMM(mid)
		return c
	}
	project := func(c geom.Camera, aspect, bleed, k1, bend float64, i int) geom.PX {
		x := (mm[i].X-mid.X)*math.Exp(aspect) + mid.X + bleed*out[i].X
		y := (mm[i].Y-mid.Y)*math.Exp(-aspect) + mid.Y + bleed*out[i].Y
		u := (x - mid.X) / mid.X
		q := c.Px(geom.Vec3{x, y, bend * (u*u - 0.5)})
		if k1 != 0 {
			dx, dy := q.X-cx, q.Y-cy
			r2 := (dx*dx + dy*dy) / (cx*cx + cy*cy)
			q = geom.PX{X: cx + dx*(1+k1*r2), Y: cy + dy*(1+k1*r2)}
		}
		return q
	}
	residuals := func(extra bool) func(p, r []float64) {
		return func(p, r []float64) {
			c := full(p)
			var k1, bend float64
			if extra {
				k1, bend = p[9], p[10]
			}
			for i := range mm {
				q := project(c, p[7], p[8], k1, bend, i)
				r[2*i], r[2*i+1] = weight[i]*(q.X-px[i].X)/sigma, weight[i]*(q.Y-px[i].Y)/sigma
			}
			n := 2 * len(mm)
			r[n], r[n+1], r[n+2] = p[6]/prior.RelU, p[7]/aspectU, p[8]/bleedPriorMM
			if extra {
				r[n+3], r[n+4] = k1/0.1, bend/3
			}
		}
	}
	m := geom.LM(make([]float64, 9), 2*len(mm)+3, residuals(false), 60)
	f.p, f.cov = m.P, m.Cov
	f.model = func(p []float64) (geom.Camera, float64) { return full(p), p[7] }
	f.cam, f.aspect = f.model(m.P)
	f.bleedMM = m.P[8]
	d := geom.LM(append(append([]float64(nil), m.P...), 1e-6, 1e-6), 2*len(mm)+5, residuals(true), 40)
	f.k1, f.bendMM = d.P[9], d.P[10]
	if d.Cov != nil {
		f.k1U, f.bendU = math.Sqrt(d.Cov[9][9]), math.Sqrt(d.Cov[10][10])
	}
	return f, nil
}

// standardU propagates the fit's covariance to a function of camera and aspect (GUM 5.2.2, with numerical slopes).
func (f cardFit) standardU(g func(geom.Camera, float64) float64) float64 {
	if f.cov == nil {
		return math.NaN()
	}
	n := len(f.p)
	slope := make([]float64, n)
	q := slices.Clone(f.p)
	for i := range n {
		h := math.Max(1e-7, 0.1*math.Sqrt(f.cov[i][i]))
		q[i] = f.p[i] + h
		a := g(f.model(q))
		q[i] = f.p[i] - h
		b := g(f.model(q))
		q[i] = f.p[i]
		slope[i] = (a - b) / (2 * h)
	}
	var v float64
	for i := range n {
		for j := range n {
			v += slope[i] * f.cov[i][j] * slope[j]
		}
	}
	return math.Sqrt(math.Max(v, 0))
}
