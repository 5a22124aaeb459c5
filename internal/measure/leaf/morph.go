package leaf

import (
	"math"
	"slices"
)

func sortFloats(x []float64) { slices.Sort(x) }
func ceilInt(x float64) int  { return int(math.Ceil(x)) }
func floorInt(x float64) int { return int(math.Floor(x)) }

// distance2 gives, for pixels outside m (m == 0) up to a reach of r px, the squared distance to the nearest pixel
// with m != 0, by the separable exact transform (Felzenszwalb & Huttenlocher 2012, here with a bounded reach, which
// keeps it linear); beyond the reach the value is far. Inside it is 0.
func near(m []uint8, w, h, r int, inv bool) []uint8 {
	// out: 1 where the distance to a set pixel is at most r
	col := make([]int16, w*h)
	const far = 1 << 14
	set := func(v uint8) bool { return (v != 0) != inv }
	for x := range w {
		d := int16(far)
		for y := range h {
			i := y*w + x
			if set(m[i]) {
				d = 0
			} else if d < far {
				d++
			}
			col[i] = d
		}
	}
	for y := h - 2; y >= 0; y-- {
		for x := range w {
			i := y*w + x
			if v := col[i+w] + 1; v < col[i] {
				col[i] = v
			}
		}
	}
	out := make([]uint8, w*h)
	// A set column at vertical distance d reaches sideways sqrt(r2 - d2).
	reach := make([]int, r+1)
	rr := (float64(r) + 0.3) * (float64(r) + 0.3)
	for d := range reach {
		reach[d] = int(math.Sqrt(rr - float64(d*d)))
	}
	for y := range h {
		row, dst := col[y*w:(y+1)*w], out[y*w:(y+1)*w]
		end := -1
		for x := range w {
			if d := row[x]; int(d) <= r {
				a := reach[d]
				for i := max(end+1, x-a); i <= min(w-1, x+a); i++ {
					dst[i] = 1
				}
				end = max(end, min(w-1, x+a))
			}
		}
	}
	return out
}

// dilate grows the mask by a disc of r px; erode shrinks it (the frame's edge does not erode).
func dilate(m []uint8, w, h, r int) []uint8 {
	if r < 1 {
		return slices.Clone(m)
	}
	return near(m, w, h, r, false)
}

func erode(m []uint8, w, h, r int) []uint8 {
	if r < 1 {
		return slices.Clone(m)
	}
	out := near(m, w, h, r, true)
	for i := range out {
		out[i] ^= 1
	}
	return out
}

// open removes what is thinner than the disc; closeGaps fills what is.
func open(m []uint8, w, h, r int) []uint8 { return dilate(erode(m, w, h, r), w, h, r) }

func closeGaps(m []uint8, w, h, r int) []uint8 { return erode(dilate(m, w, h, r), w, h, r) }

// parts labels the connected parts of m (v != 0; 8-connected, or 4-connected), 1..n, and counts their pixels.
func parts(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	label = make([]int32, w*h)
	size = []int{0}
	var stack []int32
	for i, v := range m {
		if v == 0 || label[i] != 0 {
			continue
		}
		id := int32(len(size))
		n := 0
		stack = append(stack[:0], int32(i))
		label[i] = id
		for len(stack) > 0 {
			p := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			n++
			x, y := p%w, p/w
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if (!eight && dx != 0 && dy != 0) || x+dx < 0 || x+dx >= w || y+dy < 0 || y+dy >= h {
						continue
					}
					q := p + dy*w + dx
					if m[q] != 0 && label[q] == 0 {
						label[q] = id
						stack = append(stack, int32(q))
					}
				}
			}
		}
		size = append(size, n)
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
	inv := make([]uint8, len(m))
	for i, v := range m {
		if v == 0 {
			inv[i] = 1
		}
	}
	label, size := parts(inv, w, h, false)
	for i, l := range label {
		if l != 0 && size[l] < n {
			m[i] = 1
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
