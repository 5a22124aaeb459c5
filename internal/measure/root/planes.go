package root

import "math"

// The network sees the frontal view as planes at half the view's size: the four pixels under each place of a plane are
// planes of their own, so that nothing of the picture is lost (train/walls_data.py makes the same planes for training).
const (
	planeCount = 15
	gridPx     = 32   // the view is filled up to a multiple of this
	sideMost   = 1.2  // sine of azimuth, past 1 beside the pot
	pxAtWhole  = 0.25 // mm: the scale the network was trained at
)

// planeSize is the size of a plane.
func (v *view) planeSize() (w, h int) {
	return (v.W + gridPx - 1) / gridPx * gridPx / 2, (v.H + gridPx - 1) / gridPx * gridPx / 2
}

// planes writes L*, a*, b* of the four pixels, the sine of azimuth, depth, and the share that is seen; mirror swaps left and right.
func (s *sheet) planes(data []float32, mirror bool) {
	w, h := s.planeSize()
	n := w * h
	clear(data)
	for y := range s.H {
		line := y / 2 * w
		corner := 2 * (y & 1)
		l, a, b := data[corner*n:], data[(4+corner)*n:], data[(8+corner)*n:]
		for x := range s.W {
			i := y*s.W + x
			if s.Seen.Pix[i] == 0 {
				continue
			}
			u := x
			if mirror {
				u = s.W - 1 - x
			}
			k := line + u/2
			if u&1 != 0 {
				k += n
			}
			l[k], a[k], b[k] = (s.L.Pix[i]-50)/25, s.A.Pix[i]/15, s.B.Pix[i]/20
			data[14*n+line+u/2] += 0.25
		}
	}
	for y := range h {
		depth := (2*float64(y) + 0.5) * s.Step
		r := math.Max(8, s.s.Radius(depth/s.slant)) / s.Step
		for x := range w {
			var side float64
			for d := range 2 {
				side += 0.5 * math.Min(sideMost, math.Abs(float64(2*x+d)-s.Mid)/r)
			}
			data[12*n+y*w+x] = float32(side)
			data[13*n+y*w+x] = float32(depth / 100)
		}
	}
}
