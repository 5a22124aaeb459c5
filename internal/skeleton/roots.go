package skeleton

import (
	"math"

	"phototrack/internal/raster"
)

// Options are the few numbers that turn a skeleton into roots.
type Options struct {
	SpurShare float64 // an end branch reaching less than this share of the half width out of its parent is a bump
	SigmaPx   float64 // smoothing of the centreline
	Cap       float64 // half widths between a centreline's end and the mask's end: 1 for a round cap
}

// DefaultOptions suit roots some ten px wide.
func DefaultOptions() Options { return Options{SpurShare: 0.35, SigmaPx: 4, Cap: 1} }

// Root is one centreline, through crossings. Radius, Bridged and Pts have one entry a point, about 1 px apart.
type Root struct {
	Pts     []Pt
	Radius  []float64 // half width of the mask, px; between its values on either side inside a crossing
	Bridged []bool    // inside a crossing, where the skeleton was replaced by a straight line
	Free    [2]bool   // the start, the end: a real end, not the place where it meets another root
	Border  [2]bool   // the start, the end lies on the picture's border
	Meets   []Meeting // where it meets other roots
}

// Meeting is a place where roots meet: a crossing, or one that ends at the other.
type Meeting struct {
	Zone int
	At   int // point number on this root
	Ends bool
}

// LengthPx is the centreline's length.
func (r *Root) LengthPx() float64 { return Length(r.Pts) }

// Trace finds the roots of a mask: Thin, NewGraph, Prune, and crossings resolved by direction.
func Trace(m raster.Mask, o Options) []Root {
	dist := Distance(m)
	g := NewGraph(Thin(m), dist)
	g.Prune(o.SpurShare)
	d := g.degrees()
	zone := g.zones(d)
	ends := g.ends(d, zone)
	g.pair(ends)
	t := &assembler{g: g, ends: ends, o: o, m: m, byBranch: map[[2]int]int{}, seen: map[int]bool{}}
	for i, e := range ends {
		t.byBranch[[2]int{e.branch, side(e.atA)}] = i
	}
	return t.roots()
}

func side(atA bool) int {
	if atA {
		return 0
	}
	return 1
}

type assembler struct {
	g        *Graph
	ends     []end
	o        Options
	m        raster.Mask
	byBranch map[[2]int]int
	seen     map[int]bool
}

// roots walks every chain of branches once.
func (t *assembler) roots() []Root {
	var out []Root
	for i, b := range t.g.Branches {
		if b.dead || t.seen[i] {
			continue
		}
		if b.bridge {
			continue
		}
		start, s := t.first(i)
		if r, ok := t.chain(start, s); ok {
			out = append(out, r)
		}
	}
	return out
}

// first goes back along mates from branch i to where its root begins: the branch and the side (0: A) it begins at.
func (t *assembler) first(i int) (branch, s int) {
	branch, s = i, 0
	for range len(t.ends) + 1 {
		k, ok := t.byBranch[[2]int{branch, s}]
		if !ok || t.ends[k].mate < 0 {
			return branch, s
		}
		m := t.ends[t.ends[k].mate]
		if m.branch == i { // round in a ring
			return i, 0
		}
		branch, s = m.branch, 1-side(m.atA)
	}
	return i, 0
}

// chain collects the points of one root from its first branch on.
func (t *assembler) chain(branch, s int) (Root, bool) {
	var r Root
	var raw []Pt
	var bridged []bool
	add := func(p Pt, b bool) { raw, bridged = append(raw, p), append(bridged, b) }
	type mark struct{ zone, at int }
	var marks []mark
	r.Free[0] = true
	if k, ok := t.byBranch[[2]int{branch, s}]; ok {
		r.Free[0] = false
		marks = append(marks, mark{t.ends[k].zone, 0})
		add(t.touch(k), true)
	}
	r.Free[1] = true
	for !t.seen[branch] {
		t.seen[branch] = true
		b := t.g.Branches[branch]
		if s == 1 {
			b = b.reversed()
		}
		lo, hi := 0, len(b.Pts)
		if k, ok := t.byBranch[[2]int{branch, s}]; ok {
			lo = t.ends[k].cut
		}
		k, ok := t.byBranch[[2]int{branch, 1 - s}]
		if ok {
			hi -= t.ends[k].cut
		}
		for _, p := range b.Pts[lo:max(hi, lo)] {
			add(p, false)
		}
		if !ok {
			break
		}
		e := t.ends[k]
		marks = append(marks, mark{e.zone, len(raw) - 1})
		if e.mate < 0 {
			r.Free[1] = false
			add(t.touch(k), true)
			break
		}
		branch, s = t.ends[e.mate].branch, side(t.ends[e.mate].atA)
	}
	if len(raw) < 2 {
		return r, false
	}
	t.finish(&r, raw, bridged)
	for _, m := range marks {
		// marks are counted in raw points; the smoothed line has others, but keeps their order and place
		at := nearest(r.Pts, raw[max(0, min(m.at, len(raw)-1))])
		r.Meets = append(r.Meets, Meeting{Zone: m.zone, At: at, Ends: at < 2 && !r.Free[0] || len(r.Pts)-1-at < 2 && !r.Free[1]})
	}
	return r, len(r.Pts) > 1
}

// How a root's line is ended (chosen by eye on drawn roots; the tests of this package hold them).
const (
	leastSine   = 0.2  // of the angle between two lines that are carried on until they meet
	beyondFoot  = 0.3  // of the way between the other root's feet: so far outside may they meet
	gapPx       = 3.0  // a longer step of the skeleton bridges a gap
	mostCapPx   = 12.0 // the half width near an end is looked for over this
	capWidths   = 0.8  // of a half width: what a skeleton runs into a corner of the cap
	leastBackPx = 5.0  // the direction of an end is taken over two half widths, and at least this
	mostReach   = 4.0  // half widths that an end may be carried on
)

// touch is where a root that ends at another reaches that one's centreline: going on straight from where it is clear of
// the junction. A skeleton bends over early and would lose a part of a branch that leaves at a slant.
func (t *assembler) touch(k int) Pt {
	e := t.ends[k]
	node := t.g.Nodes[e.node]
	best, reach := node.At, 3*node.Radius+2
	for i, a := range t.ends {
		if a.zone != e.zone || a.mate <= i {
			continue
		}
		b := t.ends[a.mate]
		// foot - s dir = a.foot + u (b.foot - a.foot)
		vx, vy := b.foot.X-a.foot.X, b.foot.Y-a.foot.Y
		det := e.dir.X*vy - e.dir.Y*vx
		if math.Abs(det) < leastSine*math.Hypot(vx, vy) {
			continue
		}
		wx, wy := e.foot.X-a.foot.X, e.foot.Y-a.foot.Y
		s, u := (wx*vy-wy*vx)/det, (wx*e.dir.Y-wy*e.dir.X)/det
		if s > 0 && s < reach && u > -beyondFoot && u < 1+beyondFoot {
			reach, best = s, Pt{e.foot.X - s*e.dir.X, e.foot.Y - s*e.dir.Y}
		}
	}
	return best
}

func nearest(p []Pt, q Pt) int {
	best, k := math.Inf(1), 0
	for i, v := range p {
		if d := v.Dist(q); d < best {
			best, k = d, i
		}
	}
	return k
}

// finish smooths the line, sets its free ends and reads the half widths.
func (t *assembler) finish(r *Root, raw []Pt, bridged []bool) {
	closed := raw[0] == raw[len(raw)-1] && len(raw) > 3
	if closed {
		r.Free = [2]bool{}
	}
	p := raw
	if r.Free[0] {
		p = reverse(t.trim(reverse(p)))
	}
	if r.Free[1] {
		p = t.trim(p)
	}
	p = Smooth(Resample(p, 1), t.o.SigmaPx)
	if r.Free[1] {
		p, r.Border[1] = t.extend(p)
	}
	if r.Free[0] {
		p = reverse(p)
		p, r.Border[0] = t.extend(p)
		p = reverse(p)
	}
	r.Pts = p
	r.Radius, r.Bridged = make([]float64, len(p)), make([]bool, len(p))
	// Both lists run the same way, so the nearest raw point is looked for only a little ahead of the last.
	k := 0
	for i, q := range p {
		for k+1 < len(raw) && raw[k+1].Dist(q) <= raw[k].Dist(q) {
			k++
		}
		r.Bridged[i] = bridged[k] || (k+1 < len(raw) && raw[k].Dist(raw[k+1]) > gapPx && raw[k].Dist(q) > gapPx/2)
		r.Radius[i] = t.g.radius(q)
	}
	fillBridged(r)
}

func reverse(p []Pt) []Pt {
	q := make([]Pt, len(p))
	for i, v := range p {
		q[len(p)-1-i] = v
	}
	return q
}

// trim drops the last points of a line with a free end: within a half width of the end a skeleton runs into a corner of
// the cap.
func (t *assembler) trim(p []Pt) []Pt {
	last := p[len(p)-1]
	r := 0.0
	for i := len(p) - 1; i >= 0 && p[i].Dist(last) < mostCapPx; i-- {
		r = math.Max(r, t.g.radius(p[i]))
	}
	n := len(p)
	for n > 2 && n > len(p)/2 && p[n-1].Dist(last) < capWidths*r {
		n--
	}
	return p[:n]
}

// extend goes on straight from the line's end to the mask's end and stops Cap half widths before it.
func (t *assembler) extend(p []Pt) (q []Pt, border bool) {
	n := len(p)
	last := p[n-1]
	r := t.g.radius(last)
	back := p[0]
	for i := n - 1; i >= 0; i-- {
		if p[i].Dist(last) >= math.Max(2*r, leastBackPx) {
			back = p[i]
			break
		}
	}
	l := last.Dist(back)
	if l == 0 {
		return p, false
	}
	dir := Pt{(last.X - back.X) / l, (last.Y - back.Y) / l}
	reach := 0.0
	for ; reach < mostReach*(r+1); reach += 0.25 {
		x, y := int(math.Round(last.X+reach*dir.X)), int(math.Round(last.Y+reach*dir.Y))
		if x < 0 || y < 0 || x >= t.m.W || y >= t.m.H {
			border = true
			break
		}
		if t.m.Pix[y*t.m.W+x] == 0 {
			break
		}
	}
	if !border {
		reach -= t.o.Cap * r
	}
	if reach < 0 { // trimmed too little: go back
		for len(p) > 2 && p[len(p)-1].Dist(last) < -reach {
			p = p[:len(p)-1]
		}
		return p, border
	}
	q = append([]Pt(nil), p...)
	for s := 1.0; s < reach; s++ {
		q = append(q, Pt{last.X + s*dir.X, last.Y + s*dir.Y})
	}
	return append(q, Pt{last.X + reach*dir.X, last.Y + reach*dir.Y}), border
}

// fillBridged gives points inside crossings half widths between those before and after.
func fillBridged(r *Root) {
	n := len(r.Pts)
	for i := 0; i < n; i++ {
		if !r.Bridged[i] {
			continue
		}
		j := i
		for j < n && r.Bridged[j] {
			j++
		}
		a, b := i-1, j
		for k := i; k < j; k++ {
			switch {
			case a >= 0 && b < n:
				f := float64(k-a) / float64(b-a)
				r.Radius[k] = (1-f)*r.Radius[a] + f*r.Radius[b]
			case a >= 0:
				r.Radius[k] = r.Radius[a]
			case b < n:
				r.Radius[k] = r.Radius[b]
			}
		}
		i = j
	}
}
