package leaf

import (
	"bytes"
	"math"
	"slices"
)

func sortFloats(x []float64) { slices.Sort(x) }
func ceilInt(x float64) int  { return int(math.Ceil(x)) }
func floorInt(x float64) int { return int(math.Floor(x)) }

// box is a part of a picture: columns x0..x1-1, rows y0..y1-1.
type box struct{ x0, y0, x1, y1 int }

// bounds is the smallest box that holds all set pixels; empty (x1 <= x0) where there is none.
func bounds(m []uint8, w, h int) box {
	b := box{w, h, 0, 0}
	zero := make([]uint8, w)
	for y := range h {
		row := m[y*w : (y+1)*w]
		if bytes.Equal(row, zero) {
			continue
		}
		b.y0, b.y1 = min(b.y0, y), y+1
		for x := range b.x0 {
			if row[x] != 0 {
				b.x0 = x
				break
			}
		}
		for x := w - 1; x >= b.x1; x-- {
			if row[x] != 0 {
				b.x1 = x + 1
				break
			}
		}
	}
	return b
}

func (b box) grow(r, w, h int) box {
	return box{max(0, b.x0-r), max(0, b.y0-r), min(w, b.x1+r), min(h, b.y1+r)}
}

// near sets every pixel of the box with a pixel of m (with a clear one, if inv) within a disc of r px. Each column is
// swept for the vertical distance, then each row spreads what a column's distance leaves of the disc sideways.
func near(m []uint8, w, h, r int, inv bool, b box) []uint8 {
	out := make([]uint8, w*h)
	bw, bh := b.x1-b.x0, b.y1-b.y0
	if bw <= 0 || bh <= 0 {
		return out
	}
	col := make([]uint8, bw*bh)
	far := uint8(min(254, r+1))
	var flip uint8
	if inv {
		flip = 1
	}
	for y := range bh {
		src := m[(b.y0+y)*w+b.x0 : (b.y0+y)*w+b.x1]
		dst := col[y*bw : (y+1)*bw]
		if y == 0 {
			for x, v := range src {
				if min(v, 1)^flip == 0 {
					dst[x] = far
				}
			}
			continue
		}
		up := col[(y-1)*bw : y*bw]
		for x, v := range src {
			if min(v, 1)^flip == 0 {
				dst[x] = min(far, up[x]+1)
			}
		}
	}
	for y := bh - 2; y >= 0; y-- {
		dst, down := col[y*bw:(y+1)*bw], col[(y+1)*bw:(y+2)*bw]
		for x, v := range down {
			dst[x] = min(dst[x], v+1)
		}
	}
	// A set column at vertical distance d reaches sideways sqrt(r2 - d2).
	side := make([]int, r+1)
	rr := (float64(r) + 0.3) * (float64(r) + 0.3)
	for d := range side {
		side[d] = int(math.Sqrt(rr - float64(d*d)))
	}
	for y := range bh {
		row := col[y*bw : (y+1)*bw]
		dst := out[(b.y0+y)*w+b.x0 : (b.y0+y)*w+b.x1]
		end := 0 // dst is set up to here
		for x, d := range row {
			if int(d) > r {
				continue
			}
			a := side[d]
			to := min(bw, x+a+1)
			for i := max(end, x-a); i < to; i++ {
				dst[i] = 1
			}
			end = max(end, to)
		}
	}
	return out
}

// dilate grows the mask by a disc of r px; erode shrinks it (the frame's edge does not erode).
func dilate(m []uint8, w, h, r int) []uint8 {
	if r < 1 {
		return slices.Clone(m)
	}
	return near(m, w, h, r, false, bounds(m, w, h).grow(r, w, h))
}

func erode(m []uint8, w, h, r int) []uint8 {
	if r < 1 {
		return slices.Clone(m)
	}
	b := bounds(m, w, h)
	out := near(m, w, h, r, true, b.grow(r, w, h))
	for y := b.y0; y < b.y1; y++ {
		o, s := out[y*w+b.x0:y*w+b.x1], m[y*w+b.x0:y*w+b.x1]
		for x := range o {
			o[x] = min(1, s[x]) &^ o[x]
		}
	}
	// The rim of the grown box holds only what is outside.
	g := b.grow(r, w, h)
	for y := g.y0; y < g.y1; y++ {
		for x := g.x0; x < g.x1; x++ {
			if y < b.y0 || y >= b.y1 || x < b.x0 || x >= b.x1 {
				out[y*w+x] = 0
			}
		}
	}
	return out
}

// open removes what is thinner than the disc; closeGaps fills what is.
func open(m []uint8, w, h, r int) []uint8 { return dilate(erode(m, w, h, r), w, h, r) }

func closeGaps(m []uint8, w, h, r int) []uint8 { return erode(dilate(m, w, h, r), w, h, r) }

// parts labels the connected parts of m (v != 0; 8-connected, or 4-connected), 1..n in the order of their first pixels,
// and counts their pixels (size[0] is 0). Runs of a row are joined with the overlapping runs of the row above
// (union-find).
func parts(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	label = make([]int32, w*h)
	type run struct{ x0, x1 int32 } // x1 excluded
	var runs []run
	var parent []int32
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	var reach int32
	if eight {
		reach = 1
	}
	first := make([]int, h+1) // index of the first run of each row
	for y := range h {
		first[y] = len(runs)
		row := m[y*w : (y+1)*w]
		up, upEnd := 0, 0
		if y > 0 {
			up, upEnd = first[y-1], first[y]
		}
		for x := 0; x < w; {
			if row[x] == 0 {
				x++
				continue
			}
			x0 := x
			for x < w && row[x] != 0 {
				x++
			}
			id := int32(len(runs))
			r := run{int32(x0), int32(x)}
			runs = append(runs, r)
			parent = append(parent, id)
			for up < upEnd && runs[up].x1+reach <= r.x0 {
				up++
			}
			for k := up; k < upEnd && runs[k].x0 < r.x1+reach; k++ {
				a, b := find(int32(k)), find(id)
				if a != b { // the older root stays, so that numbers follow first pixels
					parent[max(a, b)] = min(a, b)
				}
			}
		}
	}
	first[h] = len(runs)
	number := make([]int32, len(runs))
	size = []int{0}
	for y := range h {
		for k := first[y]; k < first[y+1]; k++ {
			root := find(int32(k))
			if number[root] == 0 {
				number[root] = int32(len(size))
				size = append(size, 0)
			}
			n := number[root]
			r := runs[k]
			size[n] += int(r.x1 - r.x0)
			row := label[y*w+int(r.x0) : y*w+int(r.x1)]
			for x := range row {
				row[x] = n
			}
		}
	}
	return
}

// dropSmall clears parts of fewer than n pixels.
func dropSmall(m []uint8, w, h, n int) {
	label, size := parts(m, w, h, true)
	for i, l := range label {
		if l != 0 && size[l] < n {
			m[i] = 0
		}
	}
}

// fillHoles sets holes (4-connected parts of the outside) of fewer than n pixels.
func fillHoles(m []uint8, w, h, n int) {
	b := bounds(m, w, h)
	if b.x1 <= b.x0 {
		return
	}
	b = b.grow(1, w, h)
	bw, bh := b.x1-b.x0, b.y1-b.y0
	inv := make([]uint8, bw*bh)
	for y := range bh {
		for x, v := range m[(b.y0+y)*w+b.x0 : (b.y0+y)*w+b.x1] {
			if v == 0 {
				inv[y*bw+x] = 1
			}
		}
	}
	label, size := parts(inv, bw, bh, false)
	for i, l := range label {
		if l != 0 && size[l] < n {
			m[(b.y0+i/bw)*w+b.x0+i%bw] = 1
		}
	}
}

func sortBy(idx []int, v []float32) {
	slices.SortStableFunc(idx, func(a, b int) int {
		switch {
		case v[a] < v[b]:
			return -1
		case v[a] > v[b]:
			return 1
		}
		return 0
	})
}
