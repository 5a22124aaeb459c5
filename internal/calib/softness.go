package calib

import (
	"math"
	"slices"

	"phototrack/internal/gate"
	"phototrack/internal/raster"
)

// A photo in which neither card nor tag can be read is called blurred where even its sharpest edges are wide: a photo
// without a card still has some sharp edge, a shaken or unfocused one has none (gate.UnsharpEdgePx).

// leastStep is the step, of 255, that counts as an edge of the card: between its black and its white, not of a leaf's shading (chosen by eye).
const leastStep = 60

// wholePhotoSoft estimates the width of the sharpest strong edges: over each run of rising or falling luma along rows
// and columns with a step of at least 60 levels, the step over its steepest slope. The tenth part of the sharpest
// decides.
func wholePhotoSoft(img raster.BGR) (soft bool, spreadPx float64) {
	gray, w, h := reducedGray(img, 1)
	var widths []float64
	scan := func(start, stride, n int) {
		lo, steep := int(gray[start]), 0
		dir := 0
		prev := lo
		for i := 1; i < n; i++ {
			v := int(gray[start+i*stride])
			d := v - prev
			// Noise of two levels does not end a run.
			if dir*d < -2 || dir == 0 {
				if step := prev - lo; dir != 0 && step*dir >= leastStep {
					widths = append(widths, 0.8*math.Abs(float64(step))/float64(max(1, steep)))
				}
				lo, steep, dir = prev, 0, sign(d)
			}
			if d*dir > steep {
				steep = d * dir
			}
			prev = v
		}
	}
	const every = 4
	for y := 0; y < h; y += every {
		scan(y*w, 1, w)
	}
	for x := 0; x < w; x += every {
		scan(x, w, h)
	}
	if len(widths) < 50 {
		return false, 0 // no strong edges to judge by
	}
	slices.Sort(widths)
	s := widths[len(widths)/10]
	return s > gate.UnsharpEdgePx, s
}

func sign(d int) int {
	switch {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}
