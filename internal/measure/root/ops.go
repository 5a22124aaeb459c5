package root

import "phototrack/internal/raster"

// blur blurs in place by two box passes each way of half width r px, close to a Gaussian of standard deviation
// sqrt(2 r (r+1) / 3). The border is continued.
func blur(f raster.Float, r int) {
	if r < 1 || f.W < 2 || f.H < 2 {
		return
	}
	row := make([]float32, f.W)
	for y := range f.H {
		line := f.Pix[y*f.W : (y+1)*f.W]
		boxLine(row, line, r)
		boxLine(line, row, r)
	}
	for range 2 {
		boxColumns(f, r)
	}
}

func boxLine(dst, src []float32, r int) {
	n := len(src)
	k := 1 / float32(2*r+1)
	var sum float32
	for i := -r; i <= r; i++ {
		sum += src[min(max(i, 0), n-1)]
	}
	for i := range src {
		dst[i] = sum * k
		sum += src[min(i+r+1, n-1)] - src[max(i-r, 0)]
	}
}

// boxColumns runs the box down all columns at once, a row at a time, which keeps to the order of memory.
func boxColumns(f raster.Float, r int) {
	w, h := f.W, f.H
	k := 1 / float32(2*r+1)
	src := append([]float32(nil), f.Pix...)
	at := func(y int) []float32 { y = min(max(y, 0), h-1); return src[y*w : (y+1)*w] }
	sum := make([]float32, w)
	for y := -r; y <= r; y++ {
		for x, v := range at(y) {
			sum[x] += v
		}
	}
	for y := range h {
		line, in, out := f.Pix[y*w:(y+1)*w], at(y+r+1), at(y-r)
		for x := range sum {
			line[x] = sum[x] * k
			sum[x] += in[x] - out[x]
		}
	}
}

func inverse(m raster.Mask) raster.Mask {
	out := raster.NewMask(m.W, m.H)
	for i, v := range m.Pix {
		if v == 0 {
			out.Pix[i] = 1
		}
	}
	return out
}

// dropSmall takes out components under least px and fills holes under hole px (area opening and closing).
func dropSmall(m raster.Mask, least, hole int) raster.Mask {
	out := raster.NewMask(m.W, m.H)
	set := func(of raster.Mask, wanted func(size int) bool) {
		runs, size := raster.Components(of, true)
		for _, r := range runs {
			if !wanted(size[r.Component]) {
				continue
			}
			from, to := r.In(m.W)
			for i := from; i < to; i++ {
				out.Pix[i] = 1
			}
		}
	}
	set(m, func(size int) bool { return size >= least })
	set(inverse(out), func(size int) bool { return size < hole })
	return out
}
