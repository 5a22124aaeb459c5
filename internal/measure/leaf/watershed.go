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
	floodLevels = 256
	floodTop    = 24.0 // CIELAB units per grid pixel
	// minimaReach is how far, in grid pixels, a place must be the flattest to be the germ of a basin. Small basins
	// follow every edge; joining them is safer than parting large ones.
	minimaReach = 4
	// joinStep is the mean colour step, CIELAB, under which neighbouring basins are one region.
	joinStep = 2.5
	// contradiction is the evidence, in samples of outline, from which two regions are not joined that speak for
	// different sides.
	contradiction = 5.0
)

// minima labels the pixels of m, from 1, that are flatter than all others of m within minimaReach, after a mean over 3 x 3.
func minima(g *grid, m []uint8, steep []float32) (label []int32, n int) {
	w, h := g.w, g.h
	mean := make([]float32, len(m))
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			if m[i] == 0 {
				continue
			}
			var sum, k float32
			for j := i - w; j <= i+w; j += w {
				for _, q := range [3]int{j - 1, j, j + 1} {
					if m[q] != 0 {
						sum += steep[q]
						k++
					}
				}
			}
			mean[i] = sum / k
		}
	}
	label = make([]int32, len(m))
	const r = minimaReach
	for y := r; y < h-r; y++ {
		for x := r; x < w-r; x++ {
			i := y*w + x
			if m[i] == 0 {
				continue
			}
			least := true
			for j := i - r*w - r; j <= i+r*w-r && least; j += w {
				for q := j; q <= j+2*r; q++ {
					if m[q] != 0 && (mean[q] < mean[i] || (mean[q] == mean[i] && q < i)) {
						least = false
						break
					}
				}
			}
			if least {
				n++
				label[i] = int32(n)
			}
		}
	}
	return
}

// basins divides m into regions that meet along its steepest lines (Meyer 1994: flooding by priority from markers; the
// markers are the flattest places). Labels run from 1; 0 is outside m.
func basins(g *grid, m []uint8, steep []float32) (label []int32, n int) {
	w, h := g.w, g.h
	label, n = minima(g, m, steep)
	var queue [floodLevels][]int32
	level := func(i int32) int { return min(floodLevels-1, int(steep[i]*(floodLevels/floodTop))) }
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
	// A piece too near the frame to hold a germ is a region too.
	rest := make([]uint8, len(m))
	for i, l := range label {
		if l <= 0 {
			label[i], rest[i] = 0, m[i]
		}
	}
	piece, size := parts(rest, w, h, false)
	for i, l := range piece {
		if l > 0 {
			label[i] = int32(n) + l
		}
	}
	return label, n + max(0, len(size)-1)
}

// border is what lies between two regions.
type border struct {
	length int
	step   float64 // sum over the border of the colour difference between places a little inside on both sides
}

// pair is two neighbouring regions, the smaller label first.
type pair struct{ a, b int32 }

// entry is what m holds of two regions, made when first asked for.
func entry[T any](m map[pair]*T, a, b int32) *T {
	p := pair{min(a, b), max(a, b)}
	if m[p] == nil {
		m[p] = new(T)
	}
	return m[p]
}

// bordersOf measures the borders between the regions of a label picture.
func bordersOf(g *grid, label []int32) map[pair]*border {
	bs := map[pair]*border{}
	eachBorder(g, label, func(a, b int32, _, _ int, step float64) {
		e := entry(bs, a, b)
		e.length++
		e.step += step
	})
	return bs
}

// eachBorder calls f for every two neighbouring pixels i and j of different regions a and b, with the colour difference
// between the places two pixels back from the border on both sides, where those are still in the two regions.
func eachBorder(g *grid, label []int32, f func(a, b int32, i, j int, step float64)) {
	w, h := g.w, g.h
	const back = 2
	look := func(i, x, y, dx, dy int) {
		j := i + dx + dy*w
		a, b := label[i], label[j]
		if a == b || a == 0 || b == 0 {
			return
		}
		p, q := i, j
		for n := 1; n <= back; n++ {
			if xx, yy := x-n*dx, y-n*dy; xx >= 0 && yy >= 0 && label[yy*w+xx] == a {
				p = yy*w + xx
			}
			if xx, yy := x+(n+1)*dx, y+(n+1)*dy; xx < w && yy < h && label[yy*w+xx] == b {
				q = yy*w + xx
			}
		}
		f(a, b, i, j, math.Sqrt(sqr(float64(g.L[p]-g.L[q]))+sqr(float64(g.A[p]-g.A[q]))+sqr(float64(g.B[p]-g.B[q]))))
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			if label[i] == 0 {
				continue
			}
			if x+1 < w {
				look(i, x, y, 1, 0)
			}
			if y+1 < h {
				look(i, x, y, 0, 1)
			}
		}
	}
}

// joinBasins merges neighbours, the least different first, while the mean colour step across their border is under
// limit and front, what each speaks for its being in front (negative: behind), does not contradict. It renumbers the
// labels from 1 and returns how many there are.
func joinBasins(label []int32, n int, bs map[pair]*border, limit float64, front []float64) int {
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
		if min(front[a], front[b]) < -contradiction && max(front[a], front[b]) > contradiction {
			continue
		}
		front[a] += front[b]
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
