package leaf

import "slices"

// Where on the plant discoloured tissue is means different things: from the tips inwards it is ordinary ageing, from
// the middle outwards it is not (common practice). For every connected piece of leaf the distance along the tissue from
// the piece's middle is taken: the place from which its farthest tips are all as near as can be, which for a fan or a
// rosette is where the leaves meet. The nearest and the farthest third of its area are its inner and outer part.

// whereSide is about how many cells the plant's longer side is divided into: distances need no more.
const whereSide = 110

// thirds are shares of discoloured tissue (yellow, purple, brown) in the judged tissue of the inner, middle and outer
// third.
type thirds struct {
	bad, judged [3]float64 // cells, weighted by their pixels
}

func (t *thirds) share(i int) float64 {
	if t.judged[i] == 0 {
		return 0
	}
	return t.bad[i] / t.judged[i]
}

func whereDiscoloured(f *fine) (t thirds) {
	b := bounds(f.class, f.w, f.h)
	x0, y0, x1, y1 := b.x0, b.y0, b.x1, b.y1
	if x1 <= x0 {
		return
	}
	z := max(1, max(x1-x0, y1-y0)/whereSide)
	w, h := (x1-x0+z-1)/z, (y1-y0+z-1)/z
	all, bad, judged := make([]float64, w*h), make([]float64, w*h), make([]float64, w*h)
	for y := y0; y < y1; y++ {
		row := f.class[y*f.w : (y+1)*f.w]
		o := (y - y0) / z * w
		for i := range w {
			var n [classCodes]int
			for _, v := range row[x0+i*z : min(x1, x0+(i+1)*z)] {
				n[v]++
			}
			leaf := n[NoClass+1] + n[Green+1] + n[Yellow+1] + n[Purple+1] + n[Brown+1]
			all[o+i] += float64(leaf)
			judged[o+i] += float64(leaf - n[NoClass+1])
			bad[o+i] += float64(leaf - n[NoClass+1] - n[Green+1])
		}
	}
	in := make([]uint8, w*h)
	for i, n := range all {
		if 2*n > float64(z*z) {
			in[i] = 1
		}
	}
	label, size := components(in, w, h, true)
	for l := int32(1); int(l) < len(size); l++ {
		d := fromMiddle(label, l, w, h)
		t.add(d, all, bad, judged)
	}
	return
}

// add divides one piece by its distances (-1 outside it) into thirds of its area.
func (t *thirds) add(d []int32, all, bad, judged []float64) {
	var idx []int
	sum := 0.0
	for i, v := range d {
		if v >= 0 {
			idx = append(idx, i)
			sum += all[i]
		}
	}
	slices.SortStableFunc(idx, func(a, b int) int { return int(d[a]) - int(d[b]) })
	run := 0.0
	for _, i := range idx {
		k := min(2, int(3*(run+all[i]/2)/sum))
		run += all[i]
		t.bad[k] += bad[i]
		t.judged[k] += judged[i]
	}
}

// fromMiddle gives the distance along piece l from its middle, -1 outside the piece.
func fromMiddle(label []int32, l int32, w, h int) []int32 {
	start := slices.Index(label, l)
	worst := make([]int32, len(label)) // greatest distance to any of the tips found so far
	nearest := slices.Repeat([]int32{1 << 30}, len(label))
	from := start
	for step := range 9 {
		d := along(label, l, w, h, from)
		if step == 0 { // the start is no tip: the first tip is what is farthest from it
			from = argmax(d)
			continue
		}
		for i, v := range d {
			if v >= 0 {
				worst[i], nearest[i] = max(worst[i], v), min(nearest[i], v)
			}
		}
		// The next tip is farthest from all tips so far.
		from = -1
		for i, v := range d {
			if v >= 0 && (from < 0 || nearest[i] > nearest[from]) {
				from = i
			}
		}
	}
	mid := start
	for i, v := range label {
		if v == l && worst[i] < worst[mid] {
			mid = i
		}
	}
	return along(label, l, w, h, mid)
}

func argmax(d []int32) int {
	best := 0
	for i, v := range d {
		if v > d[best] {
			best = i
		}
	}
	return best
}

// chamfer are the steps to the neighbours of a cell, row by row, and what each costs.
var chamfer = [8]struct {
	dx, dy int
	cost   int32
}{{-1, -1, 7}, {0, -1, 5}, {1, -1, 7}, {-1, 0, 5}, {1, 0, 5}, {-1, 1, 7}, {0, 1, 5}, {1, 1, 7}}

// along is the length of the shortest way within piece l from a cell, in units of a fifth of a cell: 5 straight, 7
// diagonally (the chamfer weights of Borgefors 1986).
func along(label []int32, l int32, w, h, from int) []int32 {
	d := slices.Repeat([]int32{-1}, len(label))
	ring := make([][]int32, 8)
	ring[0] = append(ring[0], int32(from))
	d[from] = 0
	left := 1
	for t := int32(0); left > 0; t++ {
		q := ring[t%8]
		ring[t%8] = nil
		for _, i := range q {
			left--
			if d[i] != t {
				continue
			}
			for _, s := range chamfer {
				x, y := int(i)%w+s.dx, int(i)/w+s.dy
				if x < 0 || y < 0 || x >= w || y >= h || label[y*w+x] != l {
					continue
				}
				j, c := y*w+x, t+s.cost
				if d[j] < 0 || c < d[j] {
					d[j] = c
					ring[c%8] = append(ring[c%8], int32(j))
					left++
				}
			}
		}
	}
	return d
}
