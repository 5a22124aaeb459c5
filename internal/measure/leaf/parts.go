package leaf

import "phototrack/internal/raster"

// stretches finds the connected parts of m (see raster.Components).
func stretches(m []uint8, w, h int, eight bool) (runs []raster.Run, size []int) {
	return raster.Components(raster.Mask{W: w, H: h, Pix: m}, eight)
}

// parts is stretches with a label for every pixel, 0 outside.
func parts(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	runs, size := stretches(m, w, h, eight)
	return raster.Label(runs, w, h), size
}

// dropSmall clears parts of fewer than n pixels.
func dropSmall(m []uint8, w, h, n int) {
	runs, size := stretches(m, w, h, true)
	for _, r := range runs {
		if size[r.Part] < n {
			from, to := r.In(w)
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
		if size[r.Part] >= n {
			continue
		}
		o := (b.y0+int(r.Y))*w + b.x0
		for i := o + int(r.X0); i < o+int(r.X1); i++ {
			m[i] = 1
		}
	}
}
