package leaf

import "phototrack/internal/raster"

// componentRuns finds the connected components of m as runs of pixels (see raster.Components).
func componentRuns(m []uint8, w, h int, eight bool) (runs []raster.Run, size []int) {
	return raster.Components(raster.Mask{W: w, H: h, Pix: m}, eight)
}

// components are the same with a label for every pixel, 0 outside.
func components(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	runs, size := componentRuns(m, w, h, eight)
	return raster.Label(runs, w, h), size
}

// dropSmall clears components of fewer than n pixels.
func dropSmall(m []uint8, w, h, n int) {
	runs, size := componentRuns(m, w, h, true)
	for _, r := range runs {
		if size[r.Component] < n {
			from, to := r.In(w)
			clear(m[from:to])
		}
	}
}
