package raster

import (
	"bytes"
	"encoding/binary"
)

// Run is a row of set pixels side by side, as long as can be, and the connected part that it belongs to.
type Run struct{ Y, X0, X1, Component int32 } // X1 excluded

// In gives the run's pixels in a picture w px wide.
func (r Run) In(w int) (from, to int) { return int(r.Y)*w + int(r.X0), int(r.Y)*w + int(r.X1) }

// NextSet is the first place from x on where row is not 0, its length where there is none.
func NextSet(row []uint8, x int) int {
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

// Components finds the connected components of a mask (8-connected, or 4-connected) as runs, in the order of rows and columns. They
// are numbered 1..n in the order of their first pixels; size counts their pixels (size[0] is 0). Runs of a row are joined with
// the overlapping runs of the row above (union-find).
func Components(m Mask, eight bool) (runs []Run, size []int) {
	w := m.W
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
	for y := range m.H {
		row := m.Pix[y*w : (y+1)*w]
		first := len(runs)
		for x := NextSet(row, 0); x < w; x = NextSet(row, x) {
			x0 := x
			x = nextClear(row, x)
			id := int32(len(runs))
			r := Run{Y: int32(y), X0: int32(x0), X1: int32(x)}
			runs, parent = append(runs, r), append(parent, id)
			for up < upEnd && runs[up].X1+reach <= r.X0 {
				up++
			}
			for k := up; k < upEnd && runs[k].X0 < r.X1+reach; k++ {
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
		r.Component = number[root]
		size[r.Component] += int(r.X1 - r.X0)
	}
	return
}

// Label gives every pixel of a picture of w x h px the number of the part that it belongs to, 0 outside.
func Label(runs []Run, w, h int) []int32 {
	label := make([]int32, w*h)
	for _, r := range runs {
		from, to := r.In(w)
		for i := from; i < to; i++ {
			label[i] = r.Component
		}
	}
	return label
}
