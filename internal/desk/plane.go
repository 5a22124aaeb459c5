package desk

import (
	"math"

	"phototrack/internal/record"
)

// project maps a point by a homography, row by row; ok is false where the point goes to infinity or behind.
func project(h [9]float64, x, y float64) (px, py float64, ok bool) {
	w := h[6]*x + h[7]*y + h[8]
	if math.Abs(w) < 1e-9 || math.IsNaN(w) {
		return 0, 0, false
	}
	return (h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w, true
}

// inverse inverts a 3 x 3 matrix by its adjugate; ok is false where it has none.
func inverse(h [9]float64) (inv [9]float64, ok bool) {
	c := [9]float64{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
	det := h[0]*c[0] + h[1]*c[3] + h[2]*c[6]
	if math.Abs(det) < 1e-12 || math.IsNaN(det) {
		return inv, false
	}
	for i := range c {
		inv[i] = c[i] / det
	}
	return inv, true
}

func times(a, b [9]float64) (out [9]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return out
}

// between is the homography that takes a pixel of one photo to the pixel of another that shows the same place of the
// card's plane.
func between(from, to *record.Photo) (h [9]float64, ok bool) {
	a, okA := cardToPx(from)
	b, okB := cardToPx(to)
	if !okA || !okB || from.WidthPx == 0 || to.WidthPx == 0 {
		return h, false
	}
	inv, ok := inverse(a)
	return times(b, inv), ok
}

func cardToPx(p *record.Photo) (h [9]float64, ok bool) {
	if p.Calibration == nil || len(p.Calibration.CardToPx) != 9 {
		return h, false
	}
	return [9]float64(p.Calibration.CardToPx), true
}
