package card

import "strconv"

// The ruler is there for a person with a steel rule, not for the camera: printers scale pages.
const (
	RulerX0MM       = 24.0  // left end of the baseline
	RulerYMM        = 66.0  // height of the baseline; ticks point up from it
	RulerLengthMM   = 100.0 // nominal length
	RulerStrokeMM   = 0.2
	NumeralHeightMM = 1.9 // height of the figures above the ticks
	NumeralGapMM    = 0.5 // between the longest tick and the foot of a numeral
)

// Tick is one mark of the ruler: a stroke from (XMM, RulerYMM) up by LengthMM. Numeral is the figure
// above it in centimetres, empty for most.
type Tick struct {
	XMM, LengthMM float64
	Numeral       string
}

// Ticks gives the ruler's 101 ticks from left to right, one a millimetre.
func Ticks() []Tick {
	out := make([]Tick, 0, int(RulerLengthMM)+1)
	for i := 0; i <= int(RulerLengthMM); i++ {
		t := Tick{XMM: RulerX0MM + float64(i), LengthMM: 2.0}
		switch {
		case i%10 == 0:
			t.LengthMM, t.Numeral = 4.5, strconv.Itoa(i/10)
		case i%5 == 0:
			t.LengthMM = 3.0
		}
		out = append(out, t)
	}
	return out
}

// RulerAreaMM is the area that holds the ruler's strokes and numerals, with the half-widths of the end
// numerals and strokes included.
func RulerAreaMM() RectMM {
	const endMM, topMM = 2.0, 4.5 + NumeralGapMM + NumeralHeightMM
	return RectMM{RulerX0MM - endMM, RulerYMM - topMM, RulerLengthMM + 2*endMM, topMM + RulerStrokeMM/2}
}
