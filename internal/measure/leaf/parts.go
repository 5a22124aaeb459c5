package leaf

import (
	"bytes"
	"encoding/binary"
)

// stretch is a run of set pixels of one row, as long as can be, and the connected part that it belongs to.
type stretch struct{ y, x0, x1, part int32 } // x1 excluded

// in gives the run's pixels in a picture w px wide.
func (s stretch) in(w int) (from, to int) { return int(s.y)*w + int(s.x0), int(s.y)*w + int(s.x1) }

// nextSet is the first place from x on where row is not 0, its length where there is none.
func nextSet(row []uint8, x int) int {
	for x+8 <= len(row) && binary.LittleEndian.Uint64(row[x:]) == 0 {
		x += 8
	}
	for x < len(row) && row[x] == 0 {
		x++
	}
	return x
}

// nextClear is the first place from x on where row is 0, its length where there is none.
func nextClear(row []uint8, x int) int {
	if n := bytes.IndexByte(row[x:], 0); n >= 0 {
		return x + n
	}
	return len(row)
}

// stretches finds the connected parts of m (v != 0; 8-connected, or 4-connected) as runs, in the order of rows and columns. Parts
// are numbered 1..n in the order of their first pixels; size counts their pixels (size[0] is 0). Runs of a row are joined with
// the overlapping runs of the row above (union-find).
func stretches(m []uint8, w, h int, eight bool) (runs []stretch, size []int) {
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
	up, upEnd := 0, 0 // the runs of the row above
	for y := range h {
		row := m[y*w : (y+1)*w]
		first := len(runs)
		for x := nextSet(row, 0); x < w; x = nextSet(row, x) {
			x0 := x
			x = nextClear(row, x)
			id := int32(len(runs))
			r := stretch{y: int32(y), x0: int32(x0), x1: int32(x)}
			runs, parent = append(runs, r), append(parent, id)
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
		up, upEnd = first, len(runs)
	}
	number := make([]int32, len(runs))
	size = []int{0}
	for k := range runs {
		r, root := &runs[k], find(int32(k))
		if number[root] == 0 {
			number[root] = int32(len(size))
			size = append(size, 0)
		}
		r.part = number[root]
		size[r.part] += int(r.x1 - r.x0)
	}
	return
}

// parts is stretches with a label for every pixel, 0 outside.
func parts(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	runs, size := stretches(m, w, h, eight)
	label = make([]int32, w*h)
	for _, r := range runs {
		from, to := r.in(w)
		for i := from; i < to; i++ {
			label[i] = r.part
		}
	}
	return label, size
}

// dropSmall clears parts of fewer than n pixels.
func dropSmall(m []uint8, w, h, n int) {
	runs, size := stretches(m, w, h, true)
	for _, r := range runs {
		if size[r.part] < n {
			from, to := r.in(w)
			clear(m[from:to])
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
		row := inv[y*bw : (y+1)*bw]
		for x, v := range m[(b.y0+y)*w+b.x0 : (b.y0+y)*w+b.x1] {
			row[x] = 1 - (v|-v)>>7 // v or -v has its top bit set where v is not 0
		}
	}
	runs, size := stretches(inv, bw, bh, false)
	for _, r := range runs {
		if size[r.part] >= n {
			continue
		}
		o := (b.y0+int(r.y))*w + b.x0
		for i := o + int(r.x0); i < o+int(r.x1); i++ {
			m[i] = 1
		}
	}
}
