package skeleton

import (
	"math"

	"phototrack/internal/raster"
)

// Pt is a position in px.
type Pt struct{ X, Y float64 }

// Dist is the distance of two positions.
func (a Pt) Dist(b Pt) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// Branch is a line of the skeleton between two nodes. A and B are node numbers; a closed line without any node has
// A = B = -1. Pts runs from A to B, node centres included.
type Branch struct {
	A, B int
	Pts  []Pt
	dead bool

	bridge bool // joins two junctions of one crossing
}

// Node is an end (degree 1) or a junction (degree 3 and more) of the skeleton.
type Node struct {
	At     Pt
	Radius float64 // distance to the mask's outside, px
}

// Graph is a skeleton as nodes and branches.
type Graph struct {
	Nodes    []Node
	Branches []Branch
	dist     raster.Float
}

// NewGraph reads the graph off a skeleton made by Thin; dist is the mask's Distance.
func NewGraph(sk raster.Mask, dist raster.Float) *Graph {
	b := newTracer(sk)
	g := &Graph{dist: dist}
	b.nodes(g)
	b.branches(g)
	return g
}

type tracer struct {
	w, h int
	pix  []uint8
	node []int32 // node number + 1
	used []bool
}

func newTracer(sk raster.Mask) *tracer {
	return &tracer{sk.W, sk.H, sk.Pix, make([]int32, len(sk.Pix)), make([]bool, len(sk.Pix))}
}

// around calls f for every skeleton pixel beside i.
func (t *tracer) around(i int, f func(j int)) {
	x, y := i%t.w, i/t.w
	for _, o := range ring {
		u, v := x+o[0], y+o[1]
		if u >= 0 && v >= 0 && u < t.w && v < t.h && t.pix[v*t.w+u] != 0 {
			f(v*t.w + u)
		}
	}
}

func (t *tracer) degree(i int) int {
	n := 0
	t.around(i, func(int) { n++ })
	return n
}

func (t *tracer) pt(i int) Pt { return Pt{float64(i % t.w), float64(i / t.w)} }

// nodes numbers the ends and the groups of touching junction pixels.
func (t *tracer) nodes(g *Graph) {
	for i, v := range t.pix {
		if v == 0 || t.node[i] != 0 {
			continue
		}
		d := t.degree(i)
		if d == 2 {
			continue
		}
		id := int32(len(g.Nodes) + 1)
		group := []int{i}
		t.node[i] = id
		for k := 0; k < len(group) && d >= branchesAtFork; k++ {
			t.around(group[k], func(j int) {
				if t.node[j] == 0 && t.degree(j) >= branchesAtFork {
					t.node[j] = id
					group = append(group, j)
				}
			})
		}
		var c Pt
		var r float64
		for _, j := range group {
			p := t.pt(j)
			c.X += p.X / float64(len(group))
			c.Y += p.Y / float64(len(group))
			r = math.Max(r, float64(g.dist.Pix[j]))
		}
		g.Nodes = append(g.Nodes, Node{c, r})
	}
}

// branches follows the lines between nodes, then the closed lines.
func (t *tracer) branches(g *Graph) {
	for i := range t.pix {
		if t.node[i] == 0 {
			continue
		}
		t.around(i, func(j int) {
			switch {
			case t.node[j] == 0 && !t.used[j]:
				g.Branches = append(g.Branches, t.follow(g, i, j))
			case t.node[j] > t.node[i]: // two nodes touch
				a, b := int(t.node[i]-1), int(t.node[j]-1)
				g.Branches = append(g.Branches, Branch{A: a, B: b, Pts: []Pt{g.Nodes[a].At, g.Nodes[b].At}})
			}
		})
	}
	for i, v := range t.pix {
		if v != 0 && t.node[i] == 0 && !t.used[i] {
			br := t.follow(g, -1, i)
			br.A, br.B = -1, -1
			br.Pts = append(br.Pts, br.Pts[0])
			g.Branches = append(g.Branches, br)
		}
	}
}

// follow walks from node pixel from (or from nowhere) over i until the next node.
func (t *tracer) follow(g *Graph, from, i int) Branch {
	br := Branch{A: -1, B: -1}
	if from >= 0 {
		br.A = int(t.node[from] - 1)
		br.Pts = append(br.Pts, g.Nodes[br.A].At)
	}
	for {
		t.used[i] = true
		br.Pts = append(br.Pts, t.pt(i))
		next, stop := -1, -1
		t.around(i, func(j int) {
			if n := t.node[j]; n != 0 {
				// Back at the start only after some way round
				if int(n-1) != br.A || len(br.Pts) > 3 {
					stop = j
				}
			} else if !t.used[j] {
				next = j
			}
		})
		if stop >= 0 {
			br.B = int(t.node[stop] - 1)
			br.Pts = append(br.Pts, g.Nodes[br.B].At)
			return br
		}
		if next < 0 {
			if br.B = br.A; br.A >= 0 { // a loop of two or three pixels at a node
				br.Pts = append(br.Pts, g.Nodes[br.A].At)
			}
			return br
		}
		i = next
	}
}

// Length of a line, px.
func Length(p []Pt) float64 {
	var s float64
	for i := 1; i < len(p); i++ {
		s += p[i].Dist(p[i-1])
	}
	return s
}

// radius is the mask's half width at a place, px.
func (g *Graph) radius(p Pt) float64 {
	x, y := int(math.Round(p.X)), int(math.Round(p.Y))
	if x < 0 || y < 0 || x >= g.dist.W || y >= g.dist.H {
		return 0
	}
	return float64(g.dist.Pix[y*g.dist.W+x])
}

func (g *Graph) degrees() []int {
	d := make([]int, len(g.Nodes))
	for _, b := range g.Branches {
		if !b.dead && b.A >= 0 {
			d[b.A]++
			d[b.B]++
		}
	}
	return d
}

// Prune takes away end branches that reach less than share of the local half width beyond the body they stand on:
// they are bumps of the outline, not roots. Shorter ones go first, and lines left without a junction are joined.
func (g *Graph) Prune(share float64) {
	for {
		d := g.degrees()
		spur, foot := g.shortestSpur(d, share)
		if spur < 0 {
			return
		}
		g.Branches[spur].dead = true
		if d[foot] == branchesAtFork {
			g.join(foot)
		}
	}
}

// shortestSpur is the end branch that reaches least beyond the body it stands on, of those to be pruned, and the node it stands on; -1
// where there is none.
func (g *Graph) shortestSpur(degrees []int, share float64) (spur, foot int) {
	spur = -1
	least := 0.0
	for i, b := range g.Branches {
		if b.dead || b.A < 0 || b.A == b.B {
			continue
		}
		tip, at := b.A, b.B
		if degrees[at] == 1 {
			tip, at = at, tip
		}
		if degrees[tip] != 1 || degrees[at] < branchesAtFork {
			continue
		}
		if over := Length(b.Pts) - g.Nodes[at].Radius*(1+share) - 1; over < least {
			spur, foot, least = i, at, over
		}
	}
	return spur, foot
}

// join makes one branch of the two that meet at node n with nothing else.
func (g *Graph) join(n int) {
	a, b := -1, -1
	for i := range g.Branches {
		br := &g.Branches[i]
		if br.dead || (br.A != n && br.B != n) {
			continue
		}
		if a < 0 {
			a = i
		} else {
			b = i
		}
	}
	if a < 0 || b < 0 { // one branch, both ends here: a closed line
		return
	}
	p, q := g.Branches[a], g.Branches[b]
	if p.A == n {
		p = p.reversed()
	}
	if q.B == n {
		q = q.reversed()
	}
	g.Branches[a] = Branch{A: p.A, B: q.B, Pts: append(append([]Pt(nil), p.Pts...), q.Pts[1:]...)}
	g.Branches[b].dead = true
}

func (b Branch) reversed() Branch {
	p := make([]Pt, len(b.Pts))
	for i, v := range b.Pts {
		p[len(p)-1-i] = v
	}
	return Branch{A: b.B, B: b.A, Pts: p, dead: b.dead}
}
