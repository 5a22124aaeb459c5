package leaf

const (
	// acrossRows is the shortest stretch across the leaf.
	acrossRows = 12
	// acrossP is the probability of leaf that is left to it: in 650 drawn scenes that were not trained on, a fifth of what was taken out was leaf.
	acrossP = 0.2
)

// across takes thin upright things out of the leaf that pass before it: stakes, wires, flower stems, hanging roots. Beside the leaf, before a
// backdrop, the network knows them for what they are; before the leaf it takes them for leaf, though it is a little less sure of them than of
// what is beside them. But what is one thing beside the leaf is the same thing before it. So they are followed from row to row by their two
// edges, and are no leaf where a good stretch is known to be none. Things that lie across the picture are left: of those followed so in drawn
// scenes as many were ribs of leaves. p is changed, and the whole photo's map.
func (r *found) across(g *grid, p []float32) {
	m := sureOrNot(p)
	b := bounds(m, g.w, g.h)
	if b.x1 <= b.x0 {
		return
	}
	s := sweep{g: g, p: p, m: m, box: b.grow(besideReach, g.w, g.h)}
	thing := make([]uint8, len(p))
	any := false
	for _, c := range joined(s.chains()) {
		any = s.judge(c, thing) || any
	}
	if !any {
		return
	}
	for i, v := range thing {
		if v != 0 {
			p[i] = min(p[i], acrossP)
		}
	}
	r.takeOver(g, p, thing)
	for i, v := range thing {
		if v != 0 {
			r.told[i/g.w*r.seen.H/g.h*r.seen.W+i%g.w*r.seen.W/g.w] = 1
		}
	}
}

// sweep goes through a part of a picture row by row.
type sweep struct {
	g *grid
	p []float32
	m []uint8
	box
}
