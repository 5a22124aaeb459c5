package cardpdf

import "phototrack/internal/card"

// words are what a side of the card says about itself, in the two areas that are not measured.
type words struct{ title, subject, hold string }

func wordsFor(s card.Side) words {
	if s == card.SideRoot {
		return words{"SIDE R", "roots", "Beside the pot: face level with its axis, square to the camera."}
	}
	return words{"SIDE L", "leaves", "Hold or prop in the plane of the leaves, beside them."}
}

// cardSide draws one side of the card with its top-left trimmed corner at the origin.
func (c canvas) cardSide(s card.Side) {
	for _, id := range card.MarkerIDs(s) {
		corners, _, _ := card.MarkerCornersMM(id)
		c.marker(id, corners[0][0], corners[0][1], card.MarkerMM)
	}
	for _, p := range card.Patches() {
		q := p.TopLeftMM()
		c.fillRGB(p.SRGB)
		c.rect(q.X, q.Y, card.PatchSideMM, card.PatchSideMM, "F")
	}
	c.ruler()
	c.sideWords(wordsFor(s))
}

func (c canvas) ruler() {
	c.stroke(black, card.RulerStrokeMM)
	c.textColour(ink)
	const half = card.RulerStrokeMM / 2
	// The baseline reaches half a stroke beyond the end ticks so that its ends are square.
	c.line(card.RulerX0MM-half, card.RulerYMM, card.RulerX0MM+card.RulerLengthMM+half, card.RulerYMM)
	sizePt := card.NumeralHeightMM / digitHeightEM / ptMM
	for _, t := range card.Ticks() {
		c.line(t.XMM, card.RulerYMM, t.XMM, card.RulerYMM-t.LengthMM)
		if t.Numeral != "" {
			c.textCentred(regular.at(sizePt), t.XMM, card.RulerYMM-t.LengthMM-card.NumeralGapMM, t.Numeral)
		}
	}
}

func (c canvas) sideWords(w words) {
	areas := card.TitleAreasMM()
	left, right := areas[0], areas[1]

	c.textColour(ink)
	c.text(bold.at(17), left.X+1.5, left.Y+6, w.title)
	c.text(regular.at(13), left.X+1.5, left.Y+12, w.subject)
	c.textColour(faint)
	c.text(regular.at(6), left.X+1.5, left.Y+17.5, "phototrack scale card")
	c.text(regular.at(6), left.X+1.5, left.Y+23, "printed")
	c.stroke(faint, 0.1)
	c.line(left.X+9.5, left.Y+23.2, left.X+left.W-2, left.Y+23.2)

	c.textColour(ink)
	width := right.W - 3
	c.paragraph(regular.at(7), right.X+1.5, right.Y+2.8, width, w.hold)
	c.textColour(faint)
	c.paragraph(regular.at(6), right.X+1.5, right.Y+15.2, width, "Check with a steel rule: ruler 100.0 mm, outer edges of the black squares top to bottom 90.0 mm.")
}
