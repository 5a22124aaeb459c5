package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/uncert"
)

const (
	maxStations   = 90   // places along a line where its edges are looked for
	minStepMM     = 0.8  // between them
	reachMM       = 16.0 // how far from the line: parts up to this half-width are drawn to their middle
	minPartMM     = 0.7  // the narrowest part
	handMM        = 2.0  // how far off the middle a hand draws, at least
	handScreenPx  = 7.0  // the same on the screen
	usualScreenPx = 1000 // width of a photo on a usual screen, where it is not known how it was seen
	perStation    = 10   // edges considered at each
	missCost      = 1.6  // of a station without a pair of edges
)

// pair is a left and a right edge at one station: distances from the drawn line along its normal, mm.
type pair struct {
	a, b   float64
	cost   float64
	inside light
	none   bool
}

func (p pair) mid() float64   { return (p.a + p.b) / 2 }
func (p pair) width() float64 { return p.b - p.a }

// station is a place on the drawn curve.
type station struct {
	p, dir, normal geom.MM
	prof           profile
	pairs          []pair // the last is none
	chosen         int
}

// scales of the photo at a line.
type scales struct {
	mmPerPx  float64
	spreadMM float64 // width of a sharp edge
	handMM   float64 // how far off a hand draws
	pointMM  float64 // standard uncertainty of a hand-set point
}

// delta is how many steps of half a pixel the two sides of an edge are taken apart for its gradient: most of its width.
func (s scales) delta() int { return max(2, int(math.Round(1.6*s.spreadMM/s.mmPerPx))) }

// fine is a transect sampled as finely as the photo allows.
func (s scales) fine(t transect) transect {
	t.step, t.delta = s.mmPerPx/2, s.delta()
	return t
}

// handPx is the standard uncertainty of a point set by hand, screen pixels: the size of a pointer's tip. (From memory of
// Fitts-type pointing at small targets: end points scatter by 2 to 3 px with a mouse; no table was at hand.)
const handPx = 2.5

// How sharp edges and hands are taken to be (chosen by eye, but for handPx).
const (
	leastSpreadPx = 1.2 // an edge is never sharper
	usualSpreadPx = 2.0 // where the photo's own is not known
	leastPointPx  = 0.7 // no hand sets a point better than this on the photo itself
	mostHandMM    = 5.0 // farther off, the line was drawn beside the part
	usualMMPerPx  = 0.3 // where the surface cannot say
)

func (in *Input) scalesAt(p geom.MM, l *Line) scales {
	a, okA := in.Surface.PX(p)
	b, okB := in.Surface.PX(geom.MM{X: p.X + 1, Y: p.Y})
	c, okC := in.Surface.PX(geom.MM{X: p.X, Y: p.Y + 1})
	s := scales{mmPerPx: usualMMPerPx}
	if okA && okB && okC {
		s.mmPerPx = 2 / (math.Hypot(b.X-a.X, b.Y-a.Y) + math.Hypot(c.X-a.X, c.Y-a.Y))
	}
	zoom := l.Zoom
	if !(zoom > 0) {
		zoom = usualScreenPx / float64(max(in.Img.W, 1))
	}
	spread := in.EdgeSpreadPx
	if !(spread > 0) {
		spread = usualSpreadPx
	}
	s.spreadMM = math.Max(leastSpreadPx, spread) * s.mmPerPx
	s.pointMM = math.Max(leastPointPx, handPx/zoom) * s.mmPerPx
	s.handMM = math.Min(mostHandMM, math.Max(handMM, handScreenPx/zoom*s.mmPerPx))
	return s
}

// pointAt is the standard uncertainty, along a direction of the surface, of a point set by hand there.
func (in *Input) pointAt(p, dir geom.MM, l *Line) float64 {
	sc := in.scalesAt(p, l)
	a, ok := in.Surface.PX(p)
	if !ok {
		return sc.pointMM
	}
	// What a pixel aside and a pixel down move along the direction: on a tilted plane neither is the other's equal.
	var g [2]float64
	for i, d := range [2]geom.PX{{X: 1}, {Y: 1}} {
		q, ok := in.Surface.MM(geom.PX{X: a.X + d.X, Y: a.Y + d.Y})
		if !ok {
			return sc.pointMM
		}
		g[i] = (q.X-p.X)*dir.X + (q.Y-p.Y)*dir.Y
	}
	return sc.pointMM / sc.mmPerPx * math.Hypot(g[0], g[1])
}

// How a curve is drawn to the middle of its part (chosen by eye; the simulated lengths of this package's tests measure what they bring).
const (
	leastHits      = 0.3  // of the stations: with fewer the line stays as it was drawn
	middleMM       = 0.15 // how well the middle between two edges is known, standard uncertainty
	smoothMM       = 4.0  // the length over which the middle is smooth
	leastStations  = 6
	pxAStation     = 2.0  // stations are no nearer than this
	mostHalfSideMM = 1.5  // half the length of part that a station averages
	middleOff      = 0.15 // of the width: so far may the middle lie beside the hand's uncertainty
	mostStepCost   = 3.0  // a jump costs no more, however far
	noneCost       = 0.4  // of losing the part from one station to the next, or finding it again
	leastToSmooth  = 4    // second differences need three values, and smoothing one more
)

// toMiddle draws a curve to the middle of the part it runs along: the curve, the edges on both sides, the share of stations
// where they were found, and the median width.
func (in *Input) toMiddle(base curve, sc scales) (c curve, edges [2][]geom.MM, found, width float64) {
	st := in.stations(base, sc)
	choose(st, sc)
	n := len(st)
	offset, weight := make([]float64, n), make([]float64, n)
	var widths []float64
	hits := 0
	for i := range st {
		s := &st[i]
		k := s.pairs[s.chosen]
		weight[i] = 1 / (4 * sc.pointMM * sc.pointMM)
		if k.none {
			continue
		}
		a, okA := s.prof.halfLevel(k.a, sc.spreadMM)
		b, okB := s.prof.halfLevel(k.b, sc.spreadMM)
		if !okA {
			a = k.a
		}
		if !okB {
			b = k.b
		}
		offset[i] = (a + b) / 2
		weight[i] = 1 / (middleMM*middleMM + sc.mmPerPx*sc.mmPerPx)
		widths = append(widths, b-a)
		hits++
		for side, t := range [2]float64{a, b} {
			edges[side] = append(edges[side], geom.MM{X: s.p.X + t*s.normal.X, Y: s.p.Y + t*s.normal.Y})
		}
	}
	if float64(hits) < leastHits*float64(n) {
		return base, [2][]geom.MM{}, 0, 0
	}
	step := base.length() / float64(n-1)
	offset = smooth(offset, weight, math.Pow(smoothMM/step, 4))
	points := make([]geom.MM, n)
	for i := range st {
		points[i] = geom.MM{X: st[i].p.X + offset[i]*st[i].normal.X, Y: st[i].p.Y + offset[i]*st[i].normal.Y}
	}
	return newCurve(points), edges, float64(hits) / float64(n), uncert.Median(widths)
}

func (in *Input) stations(base curve, sc scales) []station {
	l := base.length()
	n := int(math.Min(maxStations, math.Max(leastStations, l/math.Max(minStepMM, pxAStation*sc.mmPerPx))))
	st := make([]station, n)
	for i := range st {
		p, dir := base.place(l * float64(i) / float64(n-1))
		s := &st[i]
		s.p, s.dir, s.normal = p, dir, geom.MM{X: -dir.Y, Y: dir.X}
		half := math.Min(l/float64(n-1)/2, mostHalfSideMM)
		s.prof = in.take(sc.fine(transect{origin: p, dir: s.normal, side: dir, from: -reachMM, to: reachMM, halfSide: half}))
		s.pairs = s.candidates(sc)
	}
	return st
}

// candidates are the pairs of edges between which the line may run. A good pair has strong edges, its middle near the line,
// and no stronger edge inside.
func (s *station) candidates(sc scales) []pair {
	es := s.prof.edges(perStation)
	strongest := 0.0
	for _, e := range es {
		strongest = math.Max(strongest, e.strong)
	}
	var out []pair
	for i := range es {
		for j := i + 1; j < len(es); j++ {
			if p, ok := s.candidate(es[i:j+1], sc); ok {
				if weak := math.Min(es[i].strong, es[j].strong); strongest > 0 {
					p.cost += 0.3 * (1 - weak/strongest)
				}
				out = append(out, p)
			}
		}
	}
	return append(out, pair{none: true, cost: missCost})
}

// candidate is the pair of the first and the last of some edges, if a part may lie between them; the others lie inside.
func (s *station) candidate(es []edge, sc scales) (pair, bool) {
	a, b := es[0], es[len(es)-1]
	w, c := b.t-a.t, (a.t+b.t)/2
	if w < minPartMM || math.Abs(c) > sc.handMM+middleOff*w || c-w/2 > sc.handMM || c+w/2 < -sc.handMM {
		return pair{}, false
	}
	margin := math.Min(w/3, sc.spreadMM) // the middle third at least
	inside, ok := s.prof.mean(a.t+margin, b.t-margin)
	left, okL := s.prof.mean(a.t-2*sc.spreadMM, a.t-0.8*sc.spreadMM)
	right, okR := s.prof.mean(b.t+0.8*sc.spreadMM, b.t+2*sc.spreadMM)
	if !ok || !okL || !okR {
		return pair{}, false
	}
	// The weaker side rules: a part differs from what is beside it on both sides.
	contrast := math.Min(far(inside, left), far(inside, right))
	if contrast < leastEdge {
		return pair{}, false
	}
	within := 0.0
	for _, e := range es[1 : len(es)-1] {
		within = math.Max(within, e.strong)
	}
	cost := 12/(contrast+4) + math.Pow(c/sc.handMM, 2)*0.5
	if weak := math.Min(a.strong, b.strong); within > weak {
		cost += 0.6 * math.Min(2, within/weak-1)
	}
	return pair{a: a.t, b: b.t, cost: cost, inside: inside}, true
}

// choose picks a pair at every station so that middle, width and colour run on smoothly (dynamic programming: Bellman 1957).
func choose(st []station, sc scales) {
	n := len(st)
	cost := make([][]float64, n)
	from := make([][]int, n)
	for i := range st {
		cost[i], from[i] = make([]float64, len(st[i].pairs)), make([]int, len(st[i].pairs))
		for j, p := range st[i].pairs {
			if i == 0 {
				cost[i][j] = p.cost
				continue
			}
			best := math.Inf(1)
			for k, q := range st[i-1].pairs {
				if c := cost[i-1][k] + step(q, p, sc); c < best {
					best, from[i][j] = c, k
				}
			}
			cost[i][j] = best + p.cost
		}
	}
	last := 0
	for j := range cost[n-1] {
		if cost[n-1][j] < cost[n-1][last] {
			last = j
		}
	}
	for i := n - 1; i >= 0; i-- {
		st[i].chosen = last
		last = from[i][last]
	}
}

// step is the cost of going from one pair to the next.
func step(q, p pair, sc scales) float64 {
	if q.none || p.none {
		if q.none != p.none {
			return noneCost
		}
		return 0
	}
	d := (p.mid() - q.mid()) / (0.5 + sc.mmPerPx)
	w := math.Log(p.width()/q.width()) / 0.25
	c := far(p.inside, q.inside) / 12
	return math.Min(mostStepCost, (d*d+w*w+c*c)/2)
}

// smooth is the penalised least squares of Whittaker (1923) with second differences: lambda weighs smoothness.
func smooth(v, w []float64, lambda float64) []float64 {
	n := len(v)
	if n < leastToSmooth {
		return v
	}
	// In units of the median weight, so that lambda does not depend on the unit.
	mw := uncert.Median(append([]float64(nil), w...))
	a := make([][]float64, n)
	b := make([]float64, n)
	for i := range a {
		a[i] = make([]float64, n)
		a[i][i] = w[i] / mw
		b[i] = w[i] / mw * v[i]
	}
	for i := 0; i+2 < n; i++ {
		d := [3]float64{1, -2, 1}
		for j := range d {
			for k := range d {
				a[i+j][i+k] += lambda * d[j] * d[k]
			}
		}
	}
	out, ok := geom.SolveSymmetric(a, b)
	if !ok {
		return v
	}
	return out
}
