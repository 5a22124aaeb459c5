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

// grow is the card about a marker: others of its side join one by one, the one that its homography places best first.
func grow(seed Marker, all []Marker) sighting {
	s := sighting{side: card.SideOf(seed.ID), markers: map[int]Marker{seed.ID: seed}}
	s.h = fitMarkers(s.markers)
	for {
		best, bestErr := Marker{}, math.Inf(1)
		for _, m := range all {
			if _, have := s.markers[m.ID]; have || card.SideOf(m.ID) != s.side {
				continue
			}
			if e := reprojectionError(s.h, m) / m.SidePx(); e < bestErr {
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

// reprojectionError is how far, px, a marker's corners lie from where a homography puts them, at most.
func reprojectionError(h geom.Homography, m Marker) float64 {
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

// Focal lengths, mm equivalent, that are believed of EXIF: of rectilinear lenses (common practice).
const shortestF35, longestF35 = 8, 1000

// PriorFocal makes the focal length's prior from EXIF's 35 mm equivalent (0: not known) and the size of the photo.
// CIPA DCG-001 defines the equivalent by the diagonal (43.27 mm); many makers go by the width (36 mm), which on a 4:3
// frame is 4 % less. The prior lies half-way and reaches both, rounding and a little cropping (method: about 5 %).
// Without EXIF it may be a phone's main camera (24 to 28 mm), its twofold zoom (48 to 56 mm) or a camera's standard
// zoom (24 to 70 mm): the prior's 95 % reach from 18 to 70 mm.
func PriorFocal(f35 float64, w, h int) FocalPrior {
	long := float64(max(w, h))
	diag := math.Hypot(float64(w), float64(h))
	perMM := math.Sqrt(long / 36 * diag / 43.2666)
	if f35 >= shortestF35 && f35 <= longestF35 {
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

// fitCard fits pose, focal length (against its prior), the print's aspect and the bleed of its black to the corners.
// All four sides of a marker move together when black bleeds, so bleed and scale are told apart by the distances
// between markers. Corners that disagree (something lies on a marker) lose weight.
func fitCard(s sighting, prior FocalPrior, print Print, w, h int) (cardFit, error) {
	var f cardFit
	c := cornersOn(s, print)
	flat, err := c.fitFlat()
	if err != nil {
		return f, err
	}
	ss, sw := c.residual(flat.P)
	f.outliers, f.residualPx = c.outliers, math.Sqrt(ss/sw)
	copy(f.free[:8], flat.P)
	f.free[8] = 1
	m := poser{corners: c, prior: prior, cx: float64(w-1) / 2, cy: float64(h-1) / 2,
		mid: geom.MM{X: card.WidthMM / 2 * (print.AcrossMM / 100), Y: card.HeightMM / 2 * (print.DownMM / 90)}}
	if m.start, err = geom.PoseFromHomography(f.free, prior.Px, m.cx, m.cy); err != nil {
		return f, err
	}
	// Standard deviation of a corner's coordinate, with the degrees of freedom that the fit has used up.
	dof := math.Max(1, 2*sw-fitted)
	m.sigma = math.Max(cornerFloorPx, math.Sqrt(ss/dof))
	m.aspectU = math.Max(print.RelU/math.Sqrt2, leastAspectU)
	m.fit(&f)
	return f, nil
}

const (
	fitted         = 9    // parameters of pose, focal length, bend and aspect
	leastAspectU   = 2e-4 // of the sides' ratio: what a steel rule resolves of a print, 0.02 mm of 100
	slopeStep      = 0.1  // of a parameter's standard uncertainty, over which a slope is taken
	leastSlopeStep = 1e-7
)

// standardU propagates the fit's covariance to a function of camera and aspect (GUM 5.2.2, with numerical slopes).
func (f cardFit) standardU(g func(geom.Camera, float64) float64) float64 {
	if f.cov == nil {
		return math.NaN()
	}
	n := len(f.p)
	slope := make([]float64, n)
	q := slices.Clone(f.p)
	for i := range n {
		h := math.Max(leastSlopeStep, slopeStep*math.Sqrt(f.cov[i][i]))
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
