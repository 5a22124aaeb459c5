package root

import (
	"math"
	"sort"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// A pot of unknown size is found from its silhouette alone: the rings of rim and foot, which run across as one edge, and
// between them the outermost pair of straight edges that lie even about an axis. It gives the radii to a millimetre or
// two and the height to a few, because a moulded foot has more than one edge.
const (
	guessRadiusU = 3.5  // mm
	leastHalfMM  = 25.0 // half widths looked for
	mostHalfMM   = 110.0
	leastTallMM  = 45.0
	mostTallMM   = 240.0
	slimmest     = 1.7   // height over rim diameter of the slimmest pot
	squattest    = 0.7   // and of the squattest
	plainStep    = 5.0   // grey levels: a step this high is an edge, and one twice as high no better
	leastGuess   = 0.95  // score below which nothing is called a pot
	outermost    = 0.012 // worth of a mm of half width: the filling has edges too, inside the wall's
	outermore    = 0.035 // the same when a pot was found and only its width is asked
	leastFoot    = 22.0  // grey levels along the foot's ring, below which the silhouette was none
	tallest      = 0.003 // worth of a mm of height: the top of the filling runs across like a rim
	leastRing    = 4.0   // grey levels, mean along a row: less is the noise of a wall; by eye
	leastSides   = 0.35  // mean strength, 0..1, of the weaker of two edges that may be a pot's; by eye
	narrowest    = 0.6   // foot over rim of the most tapered pot, a tenth more than is looked for at first
	resizeSteps  = 4.0   // of 3 mm, then 1, of diameter, tried to either side: 8 mm of radius, twice guessRadiusU
)

// silhouette is a candidate in the axis plane: at row y its edges lie at x -+ (half - taper (y - y0)).
type silhouette struct {
	x, half, taper, y0, y1 float64
	score                  float64
}

// guessPot looks for a pot of any size.
func guessPot(img raster.BGR, cam wall.Camera, offset float64, blocked [][][2]float64) (potFit, bool) {
	p := newPlane(img, cam, offset, blocked)
	best := p.searchSilhouette()
	if best.score < leastGuess {
		return potFit{}, false
	}
	eye := cam.Centre()
	dist := -eye[2] - offset
	inner := func(half float64) float64 { return half/math.Sqrt(1+(half/dist)*(half/dist)) - wallThickMM }
	sized := func(e silhouette) record.Pot {
		return record.Pot{TopMM: 2 * inner(e.half), BottomMM: 2 * inner(e.half-e.taper*(e.y1-e.y0)), HeightMM: e.y1 - e.y0}
	}
	// On the axis plane the front of a ring appears lower than its centre, for a camera above it.
	sink := func(y, half float64) float64 { return eye[1] + (y-eye[1])*(dist-half)/dist }
	e := best
	e.y0, e.y1 = sink(best.y0, best.half), sink(best.y1, best.half-best.taper*(best.y1-best.y0))
	fit := &fineFit{img: img, cam: cam, pot: sized(e), offset: offset, blocked: newScreen(blocked)}
	v := fit.refine([3]float64{e.x, e.y0, 0})
	top := v[1] + fit.findRing(v, -5, 5)
	foot := v[1] + fit.findRing(v, fit.pot.HeightMM-5, fit.pot.HeightMM+5)
	e.y0, e.y1 = top, foot
	f := potFit{pot: sized(e), score: best.score, axisU: 0.8, depthU: 1.5, sizeU: guessRadiusU, guess: true}
	fit.pot = f.pot
	v[1] = top
	v = fit.resize(v)
	f.pot = fit.pot
	f.wall = frustumAt(f.pot, v[0], v[1], v[2], offset)
	// a foot that is seen from above shows as a ring where there is a pot
	if d, told := fit.ringDepth(f, f.pot.HeightMM); d.best < leastFoot && (told || d.best > 0) {
		return potFit{}, false
	}
	return f, true
}

// searchSilhouette tries axes, pairs of rings, widths and tapers.
func (p *plane) searchSilhouette() silhouette {
	best := silhouette{score: -1}
	for x := p.x0 + leastHalfMM; x < p.x0+float64(p.w)-leastHalfMM; x += 3 {
		rings := p.rings(x)
		for i, a := range rings {
			for _, b := range rings[i+1:] {
				if tall := b.y - a.y; tall < leastTallMM || tall > mostTallMM { // too low or too tall for any pot
					continue
				}
				if e := p.widest(x, a.y, b.y); e.score > 0 {
					e.score += tallest * (b.y - a.y)
					e.score += 0.8 * math.Min(a.strength, b.strength)
					if e.score > best.score {
						best = e
					}
				}
			}
		}
	}
	return best
}

type ring struct{ y, strength float64 }

// rings lists, from above, the rows at which brightness changes all along a stretch of 44 mm about x at once.
func (p *plane) rings(x float64) []ring {
	const reach, most, plain = 22, 14, 18.0
	v := make([]float64, p.h)
	u := int(x - p.x0 + 0.5)
	for y := 2; y < p.h-2; y++ {
		var s float64
		n := 0
		for k := max(1, u-reach); k <= min(p.w-2, u+reach); k += 2 {
			if i := y*p.w + k; p.ok[i-p.w] && p.ok[i+p.w] {
				s += float64(p.grey[i+p.w] - p.grey[i-p.w])
				n++
			}
		}
		if n > reach/2 {
			v[y] = math.Abs(s) / float64(n)
		}
	}
	var out []ring
	for y := 2; y < p.h-2; y++ {
		if v[y] > leastRing && v[y] >= v[y-1] && v[y] > v[y+1] {
			out = append(out, ring{p.y0 + float64(y), math.Min(1, v[y]/plain)})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].strength > out[j].strength })
	out = out[:min(len(out), most)]
	sort.Slice(out, func(i, j int) bool { return out[i].y < out[j].y })
	return out
}

// widest finds the best pair of edges between two rings, outer ones being worth more.
func (p *plane) widest(x, y0, y1 float64) silhouette {
	best := silhouette{x: x, y0: y0, y1: y1, score: -1}
	const rows = 14
	lo, hi := math.Max(leastHalfMM, (y1-y0)/2/slimmest), math.Min(mostHalfMM, (y1-y0)/2/squattest)
	for ratio := 0.0; ratio < 0.31; ratio += 0.05 { // base narrower than the rim by this share
		for half := lo; half < hi; half++ {
			taper := ratio * half / (y1 - y0)
			var l, r float32
			for i := range rows {
				d := (0.10 + 0.80*float64(i)/(rows-1)) * (y1 - y0)
				a := half - taper*d
				l += p.look(p.gx, x-a, y0+d)
				r += p.look(p.gx, x+a, y0+d)
			}
			l, r = l/rows, r/rows
			if min(l, r) < leastSides {
				continue
			}
			if s := float64(min(l, r)) + 0.3*float64(l+r) + outermost*half - 0.5; s > best.score {
				best.half, best.taper, best.score = half, taper, s
			}
		}
	}
	return best
}

// resize tries radii about those found, on the photo itself, and takes the outermost that show two edges.
func (f *fineFit) resize(v [3]float64) [3]float64 {
	start := f.pot
	best, pot, at := math.Inf(-1), start, v
	for _, step := range [2]float64{3, 1} {
		c := pot
		for i := -resizeSteps; i <= resizeSteps; i++ {
			for j := -resizeSteps; j <= resizeSteps; j++ {
				p := record.Pot{TopMM: c.TopMM + i*step, BottomMM: c.BottomMM + j*step, HeightMM: c.HeightMM}
				if p.BottomMM > p.TopMM+1 || p.BottomMM < narrowest*p.TopMM {
					continue
				}
				f.pot = p
				for dx := -2.0; dx <= 2; dx += 2 {
					w := at
					w[0] += dx * step / 3
					if s := f.sidesClipped(w, plainStep)/(1.6*plainStep) + outermore*(p.TopMM+p.BottomMM)/4; s > best {
						best, pot, v = s, p, w
					}
				}
			}
		}
		at = v
	}
	f.pot = pot
	return f.refine(v)
}

// findRing is the depth below v's rim, within lo..hi mm, of the strongest edge along the front of a ring.
func (f *fineFit) findRing(v [3]float64, lo, hi float64) float64 {
	s := frustumAt(f.pot, v[0], v[1], v[2], f.offset).Facing(f.cam.Centre()).Sheet()
	axis, _, _ := s.Frame()
	const dy, n = 0.25, 32
	best, at := -1.0, (lo+hi)/2
	for y := lo; y <= hi; y += dy {
		var sum float64
		for i := range n {
			sum += f.step(s.Point(0.8*(2*float64(i)/(n-1)-1), y), axis, 0.4) / n
		}
		if e := math.Abs(sum); e > best {
			best, at = e, y
		}
	}
	return at
}
