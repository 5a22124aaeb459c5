package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// A pot of unknown size is found from its silhouette alone: two straight, mirror-symmetric edges, as long as they go. It
// gives the radii to about a millimetre and the height to a few, because a moulded foot has more than one edge.
const (
	guessRadiusU = 1.2  // mm
	leastHalfMM  = 25.0 // half widths looked for
	mostHalfMM   = 110.0
	evidence     = 0.42 // strength of edge, 0..1, above which a row speaks for the pair of edges
	leastTallMM  = 45.0
)

// pairOfEdges is a candidate silhouette in the axis plane: at row y its edges lie at x -+ (half - taper (y - y0)).
type pairOfEdges struct {
	x, half, taper, y0, y1 float64
	score                  float64
}

// guessPot looks for a pot of any size.
func guessPot(img raster.BGR, cam wall.Camera, offset float64, blocked [][][2]float64) (potFit, bool) {
	p := newPlane(img, cam, offset, blocked)
	best := p.widestSearch()
	if best.score <= 0 || best.y1-best.y0 < leastTallMM {
		return potFit{}, false
	}
	eye := cam.Centre()
	dist := -eye[2] - offset
	inner := func(half float64) float64 { return half/math.Sqrt(1+(half/dist)*(half/dist)) - wallThickMM }
	sized := func(e pairOfEdges) record.Pot {
		return record.Pot{TopMM: 2 * inner(e.half), BottomMM: 2 * inner(e.half-e.taper*(e.y1-e.y0)), HeightMM: e.y1 - e.y0}
	}
	fit := &fineFit{img: img, cam: cam, pot: sized(best), offset: offset, blocked: blocked}
	v := fit.refine([3]float64{best.x, best.y0, 0})
	// The ring of the rim, then the lowest strong ring near where the edges end, say how tall the wall is.
	rim := fit.findRing(v, -12, 12, false)
	top := v[1] + rim
	foot := fit.findRing(v, fit.pot.HeightMM-14, fit.pot.HeightMM+10, true)
	e := best
	e.half, e.y0, e.y1 = best.half-best.taper*(top-best.y0), top, v[1]+foot
	if e.y1-e.y0 < leastTallMM {
		return potFit{}, false
	}
	f := potFit{pot: sized(e), score: best.score, axisU: 0.8, depthU: 1.5, sizeU: guessRadiusU, guess: true}
	fit.pot = f.pot
	v[1] = top
	v = fit.refine(v)
	f.wall = frustumAt(f.pot, v[0], v[1], v[2], offset)
	return f, true
}

// widestSearch tries all axes, widths and tapers and keeps the pair of edges with the most evidence.
func (p *plane) widestSearch() pairOfEdges {
	var best pairOfEdges
	for taper := 0.0; taper < 0.2; taper += 0.025 {
		for x := p.x0 + leastHalfMM; x < p.x0+float64(p.w)-leastHalfMM; x += 2 {
			for half := leastHalfMM; half < mostHalfMM; half++ {
				if e := p.longestRun(x, half, taper); e.score > best.score {
					best = e
				}
			}
		}
	}
	return best
}

// longestRun finds the rows over which both edges are there: the segment with the largest sum of evidence above what a
// cluttered ground gives (Bentley 1984). half is the half width in the middle of the plane.
func (p *plane) longestRun(x, half, taper float64) pairOfEdges {
	best := pairOfEdges{x: x, taper: taper}
	mid := p.y0 + float64(p.h)/2
	sum, from := 0.0, 0.0
	const dy = 3
	for k := 0; k < p.h; k += dy {
		y := p.y0 + float64(k)
		a := half - taper*(y-mid)
		if a < leastHalfMM*0.7 {
			break
		}
		l, r := p.look(p.gx, x-a, y), p.look(p.gx, x+a, y)
		if sum <= 0 {
			sum, from = 0, y
		}
		sum += float64(min(l, r)) - evidence
		if sum > best.score {
			best.score, best.y0, best.y1 = sum, from, y
			best.half = half - taper*(from-mid)
		}
	}
	return best
}

// findRing is the depth below v's rim, within lo..hi mm, of the strongest edge along the front of a ring; the last of
// those nearly as strong where lowest is set.
func (f *fineFit) findRing(v [3]float64, lo, hi float64, lowest bool) float64 {
	s := frustumAt(f.pot, v[0], v[1], v[2], f.offset).Facing(f.cam.Centre()).Sheet()
	axis, _, _ := s.Frame()
	const dy, n = 0.25, 32
	var val, at []float64
	best := 0.0
	for y := lo; y <= hi; y += dy {
		var sum float64
		for i := range n {
			sum += f.step(s.Point(0.8*(2*float64(i)/(n-1)-1), y), axis, 0.4) / n
		}
		val, at = append(val, math.Abs(sum)), append(at, y)
		best = math.Max(best, math.Abs(sum))
	}
	out := (lo + hi) / 2
	for i, g := range val {
		if g > 0.65*best && (i == 0 || val[i-1] <= g) && (i+1 == len(val) || val[i+1] <= g) {
			out = at[i]
			if !lowest {
				break
			}
		}
	}
	return out
}
