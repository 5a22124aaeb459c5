package skeleton

import (
	"math"
	"slices"
	"sort"
)

// end is one end of a branch at a junction.
type end struct {
	branch int
	atA    bool
	node   int
	zone   int // junction zone
	foot   Pt  // first point of the branch that is clear of the junction
	dir    Pt  // unit vector away from the junction
	cut    int // points of the branch inside the junction, counted from this end
	mate   int // end that goes on on the other side, -1 for none
}

// zones joins junctions that lie within one crossing: two roots that cross at a slant share a stretch of skeleton, with
// a junction at either end of it. Such stretches are marked as bridges.
func (g *Graph) zones(d []int) []int {
	up := make([]int, len(g.Nodes))
	for i := range up {
		up[i] = i
	}
	find := func(i int) int {
		for up[i] != i {
			i = up[i]
		}
		return i
	}
	for i := range g.Branches {
		b := &g.Branches[i]
		if b.dead || b.A < 0 || b.A == b.B || d[b.A] != branchesAtFork || d[b.B] != branchesAtFork {
			continue
		}
		if Length(b.Pts) < bridgeWidths*(g.Nodes[b.A].Radius+g.Nodes[b.B].Radius) {
			up[find(b.A)] = find(b.B)
			b.bridge = true
		}
	}
	for i := range up {
		up[i] = find(i)
	}
	return up
}

// How branches are told apart at junctions (chosen by eye on drawn crossings; the tests of this package hold them).
const (
	branchesAtFork = 3   // of a junction where one root leaves another
	bridgeWidths   = 1.6 // two forks nearer than this, in the sum of their half widths, are one crossing
	footWidths     = 2.5 // a branch's direction is taken over so many half widths,
	leastFootPx    = 6.0 // at least
	nickShare      = 8   // of a straight way within the mask one place in so many may lie outside
)

// ends lists the ends of branches at junctions, each with its direction outside the junction.
func (g *Graph) ends(d, zone []int) []end {
	var out []end
	for i, b := range g.Branches {
		if b.dead || b.A < 0 || b.bridge {
			continue
		}
		for _, atA := range [2]bool{true, false} {
			n := b.B
			if atA {
				n = b.A
			}
			if d[n] < branchesAtFork {
				continue
			}
			e := end{branch: i, atA: atA, node: n, zone: zone[n], mate: -1}
			g.aim(&e)
			out = append(out, e)
		}
	}
	return out
}

// aim finds where the branch leaves the junction and in which direction.
func (g *Graph) aim(e *end) {
	b := g.Branches[e.branch]
	n := len(b.Pts)
	at := func(i int) Pt {
		if e.atA {
			return b.Pts[i]
		}
		return b.Pts[n-1-i]
	}
	node := g.Nodes[e.node]
	for e.cut < n-1 && at(e.cut).Dist(node.At) < node.Radius {
		e.cut++
	}
	if e.cut > n/2 { // a stump: little of it is clear of the junction
		e.cut = n / 2
	}
	e.foot = at(e.cut)
	far := at(n - 1)
	for i := e.cut; i < n; i++ {
		if at(i).Dist(e.foot) >= math.Max(footWidths*node.Radius, leastFootPx) {
			far = at(i)
			break
		}
	}
	if l := far.Dist(e.foot); l > 0 {
		e.dir = Pt{(far.X - e.foot.X) / l, (far.Y - e.foot.Y) / l}
	}
}

func angle(a, b Pt) float64 {
	l := math.Hypot(a.X, a.Y) * math.Hypot(b.X, b.Y)
	if l == 0 {
		return math.Pi / 2
	}
	return math.Acos(math.Max(-1, math.Min(1, (a.X*b.X+a.Y*b.Y)/l)))
}

// maxTurn is the largest turn, rad, that a root is taken to make inside a crossing.
const maxTurn = 65 * math.Pi / 180

// turn is what it costs to call two ends one root: how far it would have to turn, and how far its course through the
// junction is from the line between the two feet. Infinite where it cannot be.
func (g *Graph) turn(a, b *end) float64 {
	back := Pt{-b.dir.X, -b.dir.Y}
	t := angle(a.dir, back)
	if t > maxTurn {
		return math.Inf(1)
	}
	if !g.inside(a.foot, b.foot) {
		return math.Inf(1)
	}
	chord := Pt{a.foot.X - b.foot.X, a.foot.Y - b.foot.Y}
	return t + 0.5*(angle(a.dir, chord)+angle(back, chord))
}

// inside says that the straight way between two points runs in the mask, but for a nick here and there.
func (g *Graph) inside(a, b Pt) bool {
	n := int(a.Dist(b)) + 1
	out := 0
	for i := 0; i <= n; i++ {
		f := float64(i) / float64(n)
		if g.radius(Pt{a.X + f*(b.X-a.X), a.Y + f*(b.Y-a.Y)}) == 0 {
			out++
		}
	}
	return out*nickShare <= n
}

// mostPaired ends of a zone are paired by trying all pairings: 105 for eight ends, 945 for ten.
const mostPaired = 8

// pair finds the mates: in each zone the pairing of ends with the least total turn, an end without a mate costing as
// much as a turn of maxTurn.
func (g *Graph) pair(ends []end) {
	byZone := map[int][]int{}
	for i, e := range ends {
		byZone[e.zone] = append(byZone[e.zone], i)
	}
	for _, ids := range byZone {
		if len(ids) > mostPaired {
			g.greedy(ends, ids)
			continue
		}
		p := pairing{g: g, ends: ends, ids: ids, bestCost: math.Inf(1), mates: make([]int, len(ids))}
		for i := range p.mates {
			p.mates[i] = open
		}
		p.try(0)
		for k, j := range p.best {
			if j >= 0 {
				ends[ids[k]].mate = ids[j]
			}
		}
	}
}

// What may stand in place of a mate.
const (
	alone = -1
	open  = -2 // not decided yet
)

// pairing looks for the cheapest pairing of a zone's ends.
type pairing struct {
	g        *Graph
	ends     []end
	ids      []int // the zone's ends
	mates    []int // of each: which of ids it is paired with
	best     []int
	bestCost float64
}

// try goes through all ways to complete the pairing, and leaves off where one costs more than the best so far.
func (p *pairing) try(cost float64) {
	if cost >= p.bestCost {
		return
	}
	k := slices.Index(p.mates, open)
	if k < 0 {
		p.best, p.bestCost = slices.Clone(p.mates), cost
		return
	}
	for j := k + 1; j < len(p.ids); j++ {
		if p.mates[j] != open {
			continue
		}
		if c := p.g.turn(&p.ends[p.ids[k]], &p.ends[p.ids[j]]); !math.IsInf(c, 1) {
			p.mates[k], p.mates[j] = j, k
			p.try(cost + c)
			p.mates[k], p.mates[j] = open, open
		}
	}
	p.mates[k] = alone
	p.try(cost + maxTurn)
	p.mates[k] = open
}

func (g *Graph) greedy(ends []end, ids []int) {
	type cand struct {
		a, b int
		c    float64
	}
	var all []cand
	for i, a := range ids {
		for _, b := range ids[i+1:] {
			if c := g.turn(&ends[a], &ends[b]); !math.IsInf(c, 1) {
				all = append(all, cand{a, b, c})
			}
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].c < all[j].c })
	for _, c := range all {
		if ends[c.a].mate < 0 && ends[c.b].mate < 0 {
			ends[c.a].mate, ends[c.b].mate = c.b, c.a
		}
	}
}
