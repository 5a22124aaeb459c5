package leaf

import "math"

// steepness is the length of the colour gradient at every pixel of m (0 elsewhere), CIELAB units per grid pixel, with
// lightness at full weight: leaves of one plant differ mostly in it.
func steepness(g *grid, m []uint8) []float32 {
	w, h := g.w, g.h
	out := make([]float32, len(m))
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			if m[i] == 0 {
				continue
			}
			var s float32
			for _, p := range [3][]float32{g.L, g.A, g.B} {
				dx, dy := (p[i+1]-p[i-1])/2, (p[i+w]-p[i-w])/2
				s += dx*dx + dy*dy
			}
			out[i] = float32(math.Sqrt(float64(s)))
		}
	}
	return out
}

const (
	flat        = 1.6 // CIELAB units per grid pixel: flatter than this is the inside of something
	floodLevels = 256
	floodTop    = 24.0
)

// basins divides m into regions that meet along its steepest lines (Meyer 1994: flooding by priority from markers; the
// markers are the flat areas). Labels run from 1; 0 is outside m.
func basins(g *grid, m []uint8, steep []float32) (label []int32, n int) {
	w, h := g.w, g.h
	flatMask := make([]uint8, len(m))
	for i, v := range m {
		if v != 0 && steep[i] < flat {
			flatMask[i] = 1
		}
	}
	flatMask = erode(flatMask, w, h, 1)
	label, size := parts(flatMask, w, h, false)
	renum := make([]int32, len(size))
	for l := 1; l < len(size); l++ {
		if size[l] >= 12 {
			n++
			renum[l] = int32(n)
		}
	}
	var queue [floodLevels][]int32
	level := func(i int32) int { return min(floodLevels-1, int(steep[i]*(floodLevels/floodTop))) }
	for i := range label {
		label[i] = renum[label[i]]
	}
	const queued = -1
	push := func(i int32, cur int) {
		if m[i] != 0 && label[i] == 0 {
			label[i] = queued
			l := max(cur, level(i))
			queue[l] = append(queue[l], i)
		}
	}
	each := func(i int32, f func(int32)) {
		x, y := int(i)%w, int(i)/w
		if x > 0 {
			f(i - 1)
		}
		if x < w-1 {
			f(i + 1)
		}
		if y > 0 {
			f(i - int32(w))
		}
		if y < h-1 {
			f(i + int32(w))
		}
	}
	for i, l := range label {
		if l > 0 {
			each(int32(i), func(q int32) { push(q, 0) })
		}
	}
	for l := 0; l < floodLevels; l++ {
		for k := 0; k < len(queue[l]); k++ {
			i := queue[l][k]
			each(i, func(q int32) {
				if label[i] <= 0 && label[q] > 0 {
					label[i] = label[q]
				}
			})
			each(i, func(q int32) { push(q, l) })
		}
		queue[l] = nil
	}
	for i, l := range label {
		if l < 0 {
			label[i] = 0
		}
	}
	return label, n
}

// border is what lies between two regions.
type border struct {
	length      int
	sharp, blur float64 // focus of the border itself, weighted by contrast
	step        float64 // sum over the border of the colour difference between places a little inside on both sides
}

type pair struct{ a, b int32 }

// bordersOf measures the borders between the regions of a label picture; in a pair the smaller label is first.
func bordersOf(g *grid, label []int32) map[pair]*border {
	w, h := g.w, g.h
	bs := map[pair]*border{}
	const d = 2
	add := func(i, j int, x, y, dx, dy int) {
		a, b := label[i], label[j]
		if a == b || a == 0 || b == 0 {
			return
		}
		// Places d pixels back from the border on both sides, where they are still in the two regions.
		p, q := i, j
		for range d {
			if xx, yy := x-dx, y-dy; xx >= 0 && yy >= 0 && label[yy*w+xx] == a {
				x, y = xx, yy
				p = yy*w + xx
			}
		}
		x, y = j%w, j/w
		for range d {
			if xx, yy := x+dx, y+dy; xx < w && yy < h && label[yy*w+xx] == b {
				x, y = xx, yy
				q = yy*w + xx
			}
		}
		l, aa, bb := float64(g.L[p]-g.L[q]), float64(g.A[p]-g.A[q]), float64(g.B[p]-g.B[q])
		if a > b {
			a, b = b, a
		}
		e := bs[pair{a, b}]
		if e == nil {
			e = &border{}
			bs[pair{a, b}] = e
		}
		e.length++
		e.step += math.Sqrt(l*l + aa*aa + bb*bb)
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			if label[i] == 0 {
				continue
			}
			if x+1 < w {
				add(i, i+1, x, y, 1, 0)
			}
			if y+1 < h {
				add(i, i+w, x, y, 0, 1)
			}
		}
	}
	return bs
}

// joinBasins merges neighbours, the least different first, while the mean colour step across their border is under
// limit and their outlines, by fs, are not one sharp and one blurred. It renumbers the labels from 1 and returns how
// many there are.
func joinBasins(label []int32, n int, bs map[pair]*border, limit float64, fs []focusOf) int {
	parent := make([]int32, n+1)
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	adj := make([]map[int32]*border, n+1)
	for k, e := range bs {
		for _, q := range [2]pair{{k.a, k.b}, {k.b, k.a}} {
			if adj[q.a] == nil {
				adj[q.a] = map[int32]*border{}
			}
			adj[q.a][q.b] = e
		}
	}
	h2 := &pairHeap{}
	for k, e := range bs {
		h2.push(joint{e.step / float64(e.length), k.a, k.b, e.length})
	}
	for len(*h2) > 0 {
		j := h2.pop()
		if j.mean > limit {
			break
		}
		a, b := j.a, j.b
		if find(a) != a || find(b) != b {
			continue
		}
		e := adj[a][b]
		if e == nil || e.length != j.length {
			continue
		}
		if fs[a].contradicts(&fs[b]) || e.occludes() {
			continue
		}
		fs[a].sharp += fs[b].sharp
		fs[a].blur += fs[b].blur
		parent[b] = a
		delete(adj[a], b)
		for c, eb := range adj[b] {
			if c == a {
				continue
			}
			delete(adj[c], b)
			ea := adj[a][c]
			if ea == nil {
				ea = &border{}
				adj[a][c] = ea
				adj[c][a] = ea
			}
			ea.length += eb.length
			ea.step += eb.step
			ea.sharp += eb.sharp
			ea.blur += eb.blur
			h2.push(joint{ea.step / float64(ea.length), min(a, c), max(a, c), ea.length})
		}
		adj[b] = nil
	}
	num := make([]int32, n+1)
	k := int32(0)
	for i := int32(1); i <= int32(n); i++ {
		if find(i) == i {
			k++
			num[i] = k
		}
	}
	for i, l := range label {
		if l > 0 {
			label[i] = num[find(l)]
		}
	}
	return int(k)
}

// joint is a border in the order of joining: by step, then by number, so that the result never depends on chance.
type joint struct {
	mean   float64
	a, b   int32
	length int
}

func (x joint) less(y joint) bool {
	if x.mean != y.mean {
		return x.mean < y.mean
	}
	if x.a != y.a {
		return x.a < y.a
	}
	return x.b < y.b
}

type pairHeap []joint

func (h *pairHeap) push(j joint) {
	*h = append(*h, j)
	s := *h
	i := len(s) - 1
	for i > 0 {
		p := (i - 1) / 2
		if !s[i].less(s[p]) {
			break
		}
		s[i], s[p] = s[p], s[i]
		i = p
	}
}

func (h *pairHeap) pop() joint {
	s := *h
	top := s[0]
	last := len(s) - 1
	s[0] = s[last]
	s = s[:last]
	*h = s
	i := 0
	for {
		c := 2*i + 1
		if c >= last {
			break
		}
		if c+1 < last && s[c+1].less(s[c]) {
			c++
		}
		if !s[c].less(s[i]) {
			break
		}
		s[i], s[c] = s[c], s[i]
		i = c
	}
	return top
}
