package leaf

import (
	"bytes"
	"math"
	"slices"

	"phototrack/internal/raster"
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

// disc is the radius, px, whose disc reaches r px along the axes and is round for small r too.
func disc(r int) float64 { return float64(r) + 0.3 }

func pack(m []uint8, w, h int) raster.Bits { return raster.Pack(raster.Mask{W: w, H: h, Pix: m}) }

// dilate grows the mask by a disc of r px; erode shrinks it (the frame's edge does not erode). The values become 0 and 1.
func dilate(m []uint8, w, h, r int) []uint8 { return pack(m, w, h).Grown(disc(r)).Mask().Pix }

func erode(m []uint8, w, h, r int) []uint8 { return pack(m, w, h).Shrunk(disc(r)).Mask().Pix }

// open removes what is thinner than the disc; closeGaps fills what is.
func open(m []uint8, w, h, r int) []uint8 {
	return pack(m, w, h).Shrunk(disc(r)).Grown(disc(r)).Mask().Pix
}

func closeGaps(m []uint8, w, h, r int) []uint8 {
	return pack(m, w, h).Grown(disc(r)).Shrunk(disc(r)).Mask().Pix
}

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
