package desk

import (
	"phototrack/internal/geom"
	"phototrack/internal/record"
)

// between is the homography that takes a pixel of one photo to the pixel of another that shows the same place of the
// card's plane.
func between(from, to *record.Photo) (h geom.Mat3, ok bool) {
	a, okA := cardToPx(from)
	b, okB := cardToPx(to)
	if !okA || !okB || from.WidthPx == 0 || to.WidthPx == 0 {
		return h, false
	}
	inv, err := a.Inv()
	return b.Mul(inv), err == nil
}

func cardToPx(p *record.Photo) (h geom.Mat3, ok bool) {
	if p.Calibration == nil || len(p.Calibration.CardToPx) != 9 {
		return h, false
	}
	return geom.Mat3(p.Calibration.CardToPx), true
}
