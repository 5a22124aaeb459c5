package scenemaker

import (
	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Print is how a print of the card differs from its drawing.
type Print struct {
	Across, Down float64 // printed length over nominal length; 1 for a true print
}

// paper is the card's white ground and black its ink, as sRGB: a sheet of office paper and a toner.
var paper, black = [3]uint8{247, 247, 247}, [3]uint8{26, 26, 26}

// titles are bars in place of the printed words, which are not measured.
var titles = [][]geom.MM{rect(31, 8, 22, 3), rect(31, 14, 17, 2), rect(88, 8, 26, 1.2), rect(88, 11, 20, 1.2), rect(88, 17, 24, 1.2)}

// flat is a figure of one printed colour.
type flat struct {
	rings [][]geom.MM
	srgb  [3]uint8
}

// markerFlats are the black square of a marker and its white cells.
func markerFlats(id int, x, y, side float64) []flat {
	cell := side / card.MarkerCells
	var white [][]geom.MM
	for r := range card.MarkerCells {
		for k := range card.MarkerCells {
			if card.CellWhite(id, r, k) {
				white = append(white, rect(x+cell*float64(k), y+cell*float64(r), cell, cell))
			}
		}
	}
	return []flat{{[][]geom.MM{rect(x, y, side, side)}, black}, {white, paper}}
}

// cardFlats is the printed card, in its drawing's millimetres.
func cardFlats(side card.Side) []flat {
	out := []flat{{[][]geom.MM{rect(0, 0, card.WidthMM, card.HeightMM)}, paper}}
	for _, id := range card.MarkerIDs(side) {
		c, _, _ := card.MarkerCornersMM(id)
		out = append(out, markerFlats(id, c[0][0], c[0][1], card.MarkerMM)...)
	}
	for _, p := range card.Patches() {
		q := p.TopLeftMM()
		out = append(out, flat{[][]geom.MM{rect(q.X, q.Y, card.PatchSideMM, card.PatchSideMM)}, p.SRGB})
	}
	const w = card.RulerStrokeMM
	ruler := [][]geom.MM{rect(card.RulerX0MM, card.RulerYMM-w/2, card.RulerLengthMM, w)}
	for _, t := range card.Ticks() {
		ruler = append(ruler, rect(t.XMM-w/2, card.RulerYMM-t.LengthMM, w, t.LengthMM-w/2))
		foot := card.RulerYMM - t.LengthMM - card.NumeralGapMM
		for i, d := range t.Numeral {
			x := t.XMM + (float64(i)-float64(len(t.Numeral))/2)*0.62*card.NumeralHeightMM
			ruler = append(ruler, digit(d, x, foot, card.NumeralHeightMM)...)
		}
	}
	return append(out, flat{ruler, black}, flat{titles, black})
}

// tagFlats is a plant's tag, in its own millimetres.
func tagFlats(plant int) []flat {
	out := []flat{{[][]geom.MM{rect(0, 0, card.TagWidthMM, card.TagHeightMM)}, paper}}
	out = append(out, markerFlats(plant, card.TagMarkerXMM, card.TagMarkerYMM, card.TagMarkerMM)...)
	var number [][]geom.MM
	s := []rune{}
	for n := plant; n > 0; n /= 10 {
		s = append([]rune{rune('0' + n%10)}, s...)
	}
	for i, d := range s {
		number = append(number, digit(d, card.TagWidthMM/2+(float64(i)-float64(len(s))/2)*5, 35, 7)...)
	}
	return append(out, flat{number, black})
}

// segments of a seven-segment digit that are lit, from the top clockwise, then the middle.
var segments = [10]string{"1111110", "0110000", "1101101", "1111001", "0110011", "1011011", "1011111", "1110000", "1111111", "1111011"}

// digit draws a figure of the given height; x is its left, foot its lower edge.
func digit(d rune, x, foot, height float64) (out [][]geom.MM) {
	w, t := 0.5*height, 0.14*height
	half := (height - t) / 2
	top := foot - height
	all := [7][]geom.MM{
		rect(x+t, top, w-2*t, t), rect(x+w-t, top, t, half+t/2), rect(x+w-t, top+half+t/2, t, half+t/2),
		rect(x+t, foot-t, w-2*t, t), rect(x, top+half+t/2, t, half+t/2), rect(x, top, t, half+t/2), rect(x+t, top+half, w-2*t, t),
	}
	for i, on := range segments[d-'0'] {
		if on == '1' {
			out = append(out, all[i])
		}
	}
	return
}

// linear is a printed colour as light sent back.
func linear(c [3]uint8) colour.RGB { return colour.FromSRGB8(c[0], c[1], c[2]) }
