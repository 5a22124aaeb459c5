package leaf

import (
	"math"
	"slices"

	"phototrack/internal/regions"
)

const (
	// softer is how many times wider than the plant's own edges those of what stands behind are: a lens that draws an edge twice as
	// wide is plainly out of focus, and leaves of the plant in the card's plane are not.
	softer = 2
	// plainlySharp is the same up to which an edge is the plant's own.
	plainlySharp = 1.3
	// mostlySoft is the share of the outline from which it is the plant itself that is out of focus.
	mostlySoft = 0.4
	// leastBehindMM is the shortest soft stretch, all those of a piece together, that says anything.
	leastBehindMM = 12
	// deepest bounds a piece's area by the square of its soft outline's length: what is known by a short stretch does not reach far.
	deepest = 1.7
	// behindP is the probability of leaf that is left to a piece whose outline is soft.
	behindP = 0.25
	// behindApart is what such a piece counts as in doubt.
	behindApart = 0.4
)

// standsBehind finds pieces of what the network takes for leaf whose outline is far softer than that of the plant: other plants close
// behind, a little out of focus, which a small picture does not show. Soft and sharp stretches of the outline are grown inwards until they meet,
// along the strongest borders.
func (r *found) standsBehind(in *Input, g *grid, p []float32) {
	if len(in.Card) == 0 || in.EdgeSpreadPx <= 0 {
		return
	}
	m := sureOrNot(p)
	s := &softRims{g: g, p: p, lines: rims(in, g, m, math.Max(1, in.EdgeSpreadPx/usualSpreadPx))}
	if !s.ownWidth(in.EdgeSpreadPx) {
		return
	}
	marks, soft := s.mark(m)
	if float64(soft) < leastBehindMM*g.pxPerMM || float64(soft) > mostlySoft*float64(s.points()) {
		return
	}
	piece := make([]uint8, len(p))
	for i, v := range byGeodesic(g, m, marks) {
		if v == behindIt && m[i] != 0 {
			piece[i] = 1
		}
	}
	piece = open(piece, g.w, g.h, 1)
	if !s.dropShort(piece) {
		return
	}
	for i, v := range piece {
		if v != 0 {
			p[i] = min(p[i], behindP)
		}
	}
	r.takeOver(g, p, piece)
	r.toOther(g, piece)
}

// Whose a place of the outline is.
const (
	ours uint8 = iota + 1
	behindIt
)

// rimInside is how far inside the outline a point of it marks the leaf, grid px: past the pixels that the lens mixes.
const rimInside = 2.5

// softRims is the outline of what is taken for leaf, and how wide the plant's own edges are.
type softRims struct {
	g     *grid
	p     []float32
	lines [][]rim
	own   float32
}

func (s *softRims) points() (n int) {
	for _, l := range s.lines {
		n += len(l)
	}
	return n
}

// ownWidth takes the plant's own edge width: the sharper quarter's, and not much less than the card's spread. False where too little of the
// outline can be told.
func (s *softRims) ownWidth(spreadPx float64) bool {
	const (
		fewest  = 100  // points; by eye
		sharper = 0.65 // times an edge's width from 10 to 90 % is that from 20 to 80 %, of a Gaussian blur (0.657)
	)
	var all []float32
	for _, l := range s.lines {
		for _, q := range l {
			if q.typic > 0 {
				all = append(all, q.typic)
			}
		}
	}
	if len(all) < fewest {
		return false
	}
	slices.Sort(all)
	s.own = max(all[len(all)/4], float32(sharper*spreadPx))
	return true
}

// mark says, just inside the outline of mask m, what is the plant's own and what stands behind, and how many points are soft.
func (s *softRims) mark(m []uint8) (marks []uint8, soft int) {
	marks = make([]uint8, len(m))
	for _, l := range s.lines {
		nearSoft := softNearby(l, s.own)
		for k := range l {
			q := &l[k]
			if q.soft(s.own) && q.sure(s.g, s.p) {
				soft++
			}
			what := s.whose(q, nearSoft[k])
			if i := q.within(s.g, rimInside); what != 0 && m[i] != 0 && marks[i] != ours {
				marks[i] = what
			}
		}
	}
	return marks, soft
}

// whose says whose a point of the outline is; 0 where it is open. nearSoft says that soft outline lies nearby.
func (s *softRims) whose(q *rim, nearSoft bool) uint8 {
	wide := q.width > softer*s.own
	switch {
	case q.sure(s.g, s.p) && (q.soft(s.own) || wide && nearSoft): // nearby: on to where it meets a leaf
		return behindIt
	case q.typic > 0 && q.typic < plainlySharp*s.own && q.width < softer*s.own:
		return ours
	}
	return 0
}

// dropShort takes out of piece what little soft outline, for its size, speaks of; false where nothing is left.
func (s *softRims) dropShort(piece []uint8) (some bool) {
	label, size := components(piece, s.g.w, s.g.h, true)
	length := make([]int, len(size))
	for _, l := range s.lines {
		for _, q := range l {
			if i := q.within(s.g, rimInside); q.soft(s.own) && piece[i] != 0 {
				length[label[i]]++
			}
		}
	}
	for i, v := range piece {
		if v == 0 {
			continue
		}
		n, px := float64(length[label[i]]), float64(size[label[i]])
		if n < leastBehindMM*s.g.pxPerMM || px > deepest*n*n {
			piece[i] = 0
		} else {
			some = true
		}
	}
	return some
}

// usualSpreadPx is the edge width, 10 to 90 %, of a sharp photo at its own size.
const usualSpreadPx = 1.8

// toOther gives what a place that a piece covers lost as leaf to the other plants.
func (r *found) toOther(g *grid, piece []uint8) {
	m := &r.seen
	for y := range m.H {
		gy := min(g.h-1, (2*y+1)*g.h/(2*m.H))
		for x := range m.W {
			if piece[gy*g.w+min(g.w-1, (2*x+1)*g.w/(2*m.W))] == 0 {
				continue
			}
			i := y*m.W + x
			sum := float32(0)
			for c := range m.P {
				if c := regions.Class(c); c != regions.Leaf {
					sum += m.P[c][i]
					m.P[c][i] = 0
				}
			}
			m.P[regions.Other][i], m.Apart[i], r.told[i] = sum, max(m.Apart[i], behindApart), 1
			if sum >= m.P[regions.Leaf][i] {
				m.Class[i] = regions.Other
			}
		}
	}
}

// softNearby says of each point of an outline whether it is soft within nearbyRims points of it.
func softNearby(line []rim, own float32) []bool {
	near := make([]bool, len(line))
	for k := range line {
		if line[k].soft(own) {
			for j := max(0, k-nearbyRims); j <= min(len(line)-1, k+nearbyRims); j++ {
				near[j] = true
			}
		}
	}
	return near
}

// soft says whether the outline is as soft there as what stands behind.
func (q *rim) soft(own float32) bool { return q.typic > softer*own }

// within is the mask's pixel that far inside of the outline.
func (q *rim) within(g *grid, px float32) int {
	x, y := q.x+int(math.Round(float64(px*q.nx))), q.y+int(math.Round(float64(px*q.ny)))
	return max(0, min(g.h-1, y))*g.w + max(0, min(g.w-1, x))
}

// sure says whether the network is sure of both sides: what lies inside is leaf, what lies outside is not.
func (q *rim) sure(g *grid, p []float32) bool {
	const surePx, sureOf = 6, 0.8 // chosen by eye: past the widest soft edges
	return p[q.within(g, surePx)] > sureOf && p[q.within(g, -surePx)] < 1-sureOf
}
