package root

import "math"

// The network sees the frontal view as planes at half the view's size: the four pixels under each place of a plane are
// planes of their own, so that nothing of the picture is lost (train/walls_data.py makes the same planes for training).
const (
	planeCount = 15
	gridPx     = 32   // the view is filled up to a multiple of this
	sideMost   = 1.2  // sine of azimuth, past 1 beside the pot
	pxAtWhole  = 0.25 // mm: the scale the network was trained at
	leastRMM   = 8    // radius where a tapered wall, drawn on below its foot, would run out; as in training
)

// planeSize is the size of a plane.
func (v *view) planeSize() (w, h int) {
	return (v.W + gridPx - 1) / gridPx * gridPx / 2, (v.H + gridPx - 1) / gridPx * gridPx / 2
}

// planes are L*, a*, b* of the four pixels, the sine of azimuth, depth, and the share that is seen.
func (s *sheet) planes() []float32 {
	w, h := s.planeSize()
	n := w * h
	data := make([]float32, planeCount*n)
	for y := range s.H {
		line := y / 2 * w
		for odd := range 2 {
			corner := 2*(y&1) + odd
			l, a, b, share := data[corner*n+line:], data[(4+corner)*n+line:], data[(8+corner)*n+line:], data[14*n+line:]
			for k, i := 0, y*s.W+odd; i < (y+1)*s.W; k, i = k+1, i+2 {
				if s.Seen.Pix[i] != 0 {
					l[k], a[k], b[k] = (s.L.Pix[i]-50)/25, s.A.Pix[i]/15, s.B.Pix[i]/20
					share[k] += 0.25
				}
			}
		}
	}
	for y := range h {
		depth := (2*float64(y) + 0.5) * s.Step
		r := math.Max(leastRMM, s.s.Radius(depth/s.slant)) / s.Step
		for x := range w {
			var side float64
			for d := range 2 {
				side += 0.5 * min(sideMost, math.Abs(float64(2*x+d)-s.Mid)/r)
			}
			data[12*n+y*w+x] = float32(side)
			data[13*n+y*w+x] = float32(depth / 100)
		}
	}
	return data
}

// mirrored writes the planes with left and right of the view exchanged.
func (s *sheet) mirrored(data, planes []float32) {
	w, h := s.planeSize()
	n := w * h
	copy(data[12*n:14*n], planes[12*n:14*n])
	clear(data[:12*n])
	clear(data[14*n:])
	for p := range 12 {
		odd := p & 1
		to := p - odd + (s.W-1-odd)&1
		last := (s.W - 1 - odd) / 2
		for y := range (s.H + 1) / 2 {
			src, dst := planes[p*n+y*w:][:(s.W+1-odd)/2], data[to*n+y*w:]
			for k, v := range src {
				dst[last-k] = v
			}
		}
	}
	// The share of a place is that of its four pixels, of which each pair may come from two places.
	for y := range s.H {
		seen, share := s.Seen.Pix[y*s.W:(y+1)*s.W], data[14*n+y/2*w:]
		for x, v := range seen {
			if v != 0 {
				share[(s.W-1-x)/2] += 0.25
			}
		}
	}
}
