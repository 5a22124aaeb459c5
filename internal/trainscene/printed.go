package trainscene

import (
	"phototrack/internal/card"
	"phototrack/internal/colour"
)

// sheet is a printed sheet in pixels of a tenth of a millimetre.
type sheet struct {
	w, h int
	pix  []rgb
}

const sheetPxPerMM = 8

func newSheet(wMM, hMM float32) *sheet {
	s := &sheet{w: int(wMM * sheetPxPerMM), h: int(hMM * sheetPxPerMM)}
	s.pix = make([]rgb, s.w*s.h)
	for i := range s.pix {
		s.pix[i] = rgb{0.88, 0.88, 0.87}
	}
	return s
}

func (s *sheet) fill(x, y, w, h float32, c rgb) {
	for j := int(y * sheetPxPerMM); j < min(s.h, int((y+h)*sheetPxPerMM)); j++ {
		for i := int(x * sheetPxPerMM); i < min(s.w, int((x+w)*sheetPxPerMM)); i++ {
			s.pix[j*s.w+i] = c
		}
	}
}

func (s *sheet) marker(id int, x, y, side float32) {
	cell := side / card.MarkerCells
	for r := range card.MarkerCells {
		for k := range card.MarkerCells {
			c := rgb{0.012, 0.012, 0.012}
			if card.CellWhite(id, r, k) {
				c = rgb{0.88, 0.88, 0.87}
			}
			s.fill(x+float32(k)*cell, y+float32(r)*cell, cell+0.05, cell+0.05, c)
		}
	}
}

// material shows the sheet; u to the right, v down, 0..1.
func (s *sheet) material() material {
	return func(u, v float32, at vec) look {
		x, y := min(s.w-1, max(0, int(u*float32(s.w)))), min(s.h-1, max(0, int(v*float32(s.h))))
		return look{albedo: s.pix[y*s.w+x], gloss: 0.02, rough: 1}
	}
}

func linear8(c [3]uint8) rgb {
	var o rgb
	for i := range 3 {
		o[i] = float32(colour.LinearOf8[c[i]])
	}
	return o
}

func cardSheet(side card.Side) *sheet {
	s := newSheet(card.WidthMM, card.HeightMM)
	for _, id := range card.MarkerIDs(side) {
		q, _, _ := card.MarkerCornersMM(id)
		s.marker(id, float32(q[0][0]), float32(q[0][1]), float32(q[1][0]-q[0][0]))
	}
	for _, p := range card.Patches() {
		at := p.TopLeftMM()
		s.fill(float32(at.X), float32(at.Y), 11, 11, linear8(p.SRGB))
	}
	black := rgb{0.02, 0.02, 0.02}
	for x := range 101 {
		h := float32(2)
		if x%10 == 0 {
			h = 4.5
		} else if x%5 == 0 {
			h = 3
		}
		s.fill(24+float32(x), 66-h, 0.25, h, black)
	}
	s.fill(31, 8, 22, 3, black)
	s.fill(31, 14, 17, 1.5, black)
	s.fill(88, 8, 24, 1.2, black)
	return s
}

func tagSheet(number int) *sheet {
	s := newSheet(28, 38)
	s.marker(number, 4, 4, 20)
	s.fill(9, 27, 10, 7, rgb{0.05, 0.05, 0.05})
	return s
}
