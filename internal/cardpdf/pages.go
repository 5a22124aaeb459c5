package cardpdf

import (
	"fmt"

	"phototrack/internal/card"
)

// RecordCommand is the command by which a grower tells what the steel rule said; the figures are an
// example.
const RecordCommand = "phototrack card --measured 99.4,89.6"

// cardPage prints one side in the very middle of the sheet, with notes above and below if there is room.
func (d *document) cardPage(s card.Side) {
	landscape := d.paper.WidthMM < card.WidthMM
	w := wordsFor(s)
	c, pageW, pageH := d.addPage(landscape, fmt.Sprintf("Scale card, side %s (%s)", s, w.subject))
	x, y := (pageW-card.WidthMM)/2, (pageH-card.HeightMM)/2
	piece := c.at(x, y)
	piece.cutMarks(card.WidthMM, card.HeightMM, x, y)
	piece.cardSide(s)
	if !d.roomBesideCard() {
		return
	}
	d.notesAbove(c.at(x, 0), s, y)
	d.notesBelow(c.at(x, y+card.HeightMM))
}

// notesAbove fills the space above the card, whose top edge is at y.
func (d *document) notesAbove(c canvas, s card.Side, y float64) {
	top := y - 68
	c.textColour(ink)
	c.text(bold.at(20), 0, top, fmt.Sprintf("Scale card, side %s: %s", s, wordsFor(s).subject))
	c.textColour(faint)
	top += 9
	c.text(regular.at(10), 0, top, "Every measurement is scaled and colour-corrected by this card.")
	c.textColour(ink)
	c.steps(10, 0, top+9, card.WidthMM, printSteps(s))
}

func printSteps(s card.Side) []string {
	turn := "Print both pages on one sheet, turned over the long edge: side R then lies exactly behind side L. Or print each on its own and glue them back to back."
	if s == card.SideRoot {
		turn = "This is the back of side L: print it on the same sheet, turned over the long edge."
	}
	return []string{
		"Print at 100 % (“actual size”), never “fit to page”.",
		"Use heavy matt white paper, the best quality setting, and no colour enhancement. Gloss mirrors lamps; ordinary toner on thin paper shines and curls.",
		turn,
		"Check the size as below, then cut along the corner marks. Keep the card flat and clean, and out of the sun; do not laminate it.",
	}
}

// notesBelow starts at the card's bottom edge.
func (d *document) notesBelow(c canvas) {
	c.textColour(ink)
	c.text(bold.at(13), 0, 20, "Check the print with a steel rule")
	y := c.steps(10, 0, 28, card.WidthMM, checkSteps())
	c.commandBox(0, y, card.WidthMM, 10)
}

func checkSteps() []string {
	return []string{
		"Across: lay the rule along the printed ruler. From 0 to 10 it should say 100 mm.",
		"Down: from the upper edge of the top black squares to the lower edge of the bottom ones it should say 90 mm.",
		"Read both to a tenth of a millimetre and record them, even when they are exact. The program then corrects for your printer. Your own two figures go in here:",
	}
}

// steps writes a numbered list and returns the next free baseline.
func (c canvas) steps(sizePt, x, y, w float64, items []string) float64 {
	indent := sizePt * ptMM * 1.6
	for i, s := range items {
		c.text(bold.at(sizePt), x, y, fmt.Sprint(i+1))
		y = c.paragraph(regular.at(sizePt), x+indent, y, w-indent, s) + sizePt*ptMM*0.35
	}
	return y
}

// commandBox shows the recording command on a pale ground.
func (c canvas) commandBox(x, y, w, sizePt float64) {
	h := sizePt * ptMM * 2.2
	c.fillRGB(colour{240, 240, 240})
	c.rect(x, y-sizePt*ptMM*0.7, w, h, "F")
	c.textColour(black)
	c.text(mono.at(sizePt), x+sizePt*ptMM, y-sizePt*ptMM*0.7+h*0.63, RecordCommand)
}

// printNotesPage holds the printing notes where the card fills its sheet.
func (d *document) printNotesPage() {
	c, w, _ := d.addPage(true, "Printing and checking")
	const marginMM, sizePt = 8.0, 7.5
	width := w - 2*marginMM
	c.textColour(ink)
	c.text(bold.at(12), marginMM, 12, "Print at 100 %, then check with a steel rule")
	y := c.steps(sizePt, marginMM, 19, width, photoPrintSteps())
	c.text(bold.at(9), marginMM, y+3, "Check")
	y = c.steps(sizePt, marginMM, y+8.5, width, checkSteps())
	c.commandBox(marginMM, y, width, sizePt)
}

func photoPrintSteps() []string {
	return []string{
		"Print at 100 % (“actual size”) with the borderless setting off: borderless printing enlarges the picture. In a photo shop, ask for no cropping and no correction.",
		"Choose matt photo paper: gloss mirrors lamps.",
		"Print sides L and R, trim both along the corner marks, and glue them back to back. Keep the card flat; do not laminate it.",
	}
}
