package plate

import (
	"math"
	"sort"
)

// medianCut parts colours into at most n boxes: again and again the box with the widest side, weighted by how many
// pixels it holds, is parted at the median of that side. Heckbert (1982), Color image quantization for frame buffer
// display.
func medianCut(px [][3]uint8, n int) [][][3]uint8 {
	if len(px) == 0 || n < 1 {
		return nil
	}
	boxes := [][][3]uint8{px}
	for len(boxes) < n {
		best, axis, worth := -1, 0, 0.0
		for i, b := range boxes {
			a, side := widest(b)
			// the square root: large plain areas get more colours, but not all of them
			if v := float64(side) * float64(side) * math.Sqrt(float64(len(b))); side > 0 && v > worth {
				best, axis, worth = i, a, v
			}
		}
		if best < 0 {
			break
		}
		b := boxes[best]
		sort.Slice(b, func(i, j int) bool { return b[i][axis] < b[j][axis] })
		cut := len(b) / 2
		for cut < len(b)-1 && b[cut][axis] == b[cut-1][axis] { // equal values stay together
			cut++
		}
		if b[cut][axis] == b[cut-1][axis] {
			for cut > 1 && b[cut-1][axis] == b[len(b)-1][axis] {
				cut--
			}
		}
		boxes[best] = b[:cut]
		boxes = append(boxes, b[cut:])
	}
	return boxes
}

// widest is the axis along which a box's colours differ most, and by how much.
func widest(b [][3]uint8) (axis, side int) {
	for c := range 3 {
		lo, hi := 255, 0
		for _, p := range b {
			lo, hi = min(lo, int(p[c])), max(hi, int(p[c]))
		}
		if hi-lo > side {
			axis, side = c, hi-lo
		}
	}
	return axis, side
}
