package pipeline

import (
	"math"

	"phototrack/internal/collection"
	"phototrack/internal/geom"
	"phototrack/internal/record"
)

// CarryAreas are areas drawn on one photo moved to another by their cards, which stand beside the plant in each: a place keeps its
// place in mm. Where a card is missing, they keep their place in the frame. Points that would leave the photo are put on its
// edge; what has no area left there is dropped.
func CarryAreas(areas []collection.Mark, from, to *record.Photo) (out []collection.Mark) {
	move := func(x, y float64) (float64, float64, bool) { return x, y, true }
	if h, ok := samePlace(from, to); ok {
		move = func(x, y float64) (float64, float64, bool) {
			px, py, ok := h.Project(x*float64(from.WidthPx)-0.5, y*float64(from.HeightPx)-0.5)
			return (px + 0.5) / float64(to.WidthPx), (py + 0.5) / float64(to.HeightPx), ok
		}
	}
	inPhoto := func(v float64) float64 { return math.Min(1, math.Max(0, v)) }
	for _, m := range areas {
		k := collection.Mark{What: m.What, Who: m.Who, When: m.When, Note: "as on " + from.Name}
		whole := true
		for _, ring := range m.Rings {
			var moved [][2]float64
			for _, q := range ring {
				x, y, ok := move(q[0], q[1])
				whole = whole && ok
				moved = append(moved, [2]float64{inPhoto(x), inPhoto(y)})
			}
			k.Rings = append(k.Rings, moved)
		}
		if whole && k.Check() == nil {
			out = append(out, k)
		}
	}
	return out
}

// samePlace is the homography that takes a pixel of one photo to the pixel of another that shows the same place of the
// card's plane.
func samePlace(from, to *record.Photo) (h geom.Mat3, ok bool) {
	a, okA := CardToPx(from)
	b, okB := CardToPx(to)
	if !okA || !okB || from.WidthPx == 0 || to.WidthPx == 0 {
		return h, false
	}
	inv, err := a.Inv()
	return b.Mul(inv), err == nil
}

// CardToPx is the homography from the card's millimetres to the pixels of a photo; ok is false where no card was found.
func CardToPx(p *record.Photo) (h geom.Mat3, ok bool) {
	if p.Calibration == nil || len(p.Calibration.CardToPx) != 9 {
		return h, false
	}
	return geom.Mat3(p.Calibration.CardToPx), true
}
