package cardpdf

import (
	"fmt"

	"codeberg.org/go-pdf/fpdf"
)

// canvas draws on the current page, in mm from its own origin (x, y), y down.
type canvas struct {
	pdf  *fpdf.Fpdf
	x, y float64
}

// at is the same page with the origin moved by (x, y).
func (c canvas) at(x, y float64) canvas { return canvas{c.pdf, c.x + x, c.y + y} }

// colour is an sRGB colour.
type colour [3]uint8

var (
	black    = colour{0, 0, 0}
	white    = colour{255, 255, 255}
	ink      = colour{50, 50, 50}    // printed words
	faint    = colour{120, 120, 120} // second-rank words
	hairline = colour{190, 190, 190} // where to cut
)

// fillRGB sets the fill colour as three sRGB values even for greys: fpdf would write equal values as
// DeviceGray, which some printers set in black ink alone while they mix the colours beside it.
func (c canvas) fillRGB(k colour) {
	c.pdf.SetFillColor(int(k[0]), int(k[1]), int(k[2])) // keeps fpdf's own idea of the colour, which text depends on
	c.pdf.RawWriteStr(fmt.Sprintf("%.5f %.5f %.5f rg", float64(k[0])/255, float64(k[1])/255, float64(k[2])/255))
}

// fillBlack sets black ink only, for edges without colour fringes.
func (c canvas) fillBlack() { c.pdf.SetFillColor(0, 0, 0) }

func (c canvas) textColour(k colour) { c.pdf.SetTextColor(int(k[0]), int(k[1]), int(k[2])) }

func (c canvas) stroke(k colour, widthMM float64) {
	c.pdf.SetDrawColor(int(k[0]), int(k[1]), int(k[2]))
	c.pdf.SetLineWidth(widthMM)
}

func (c canvas) line(x1, y1, x2, y2 float64) {
	c.pdf.Line(c.x+x1, c.y+y1, c.x+x2, c.y+y2)
}

// rect draws a rectangle; style "F" fills, "D" strokes, "FD" does both.
func (c canvas) rect(x, y, w, h float64, style string) {
	c.pdf.Rect(c.x+x, c.y+y, w, h, style)
}

// cutMarks draws two short strokes outside each corner of a w x h piece whose top-left corner is the
// origin. roomX and roomY are the bare margins beside and above the piece; the marks shrink to fit.
func (c canvas) cutMarks(w, h, roomX, roomY float64) {
	c.stroke(black, 0.15)
	gapX, endX := markSpan(roomX)
	gapY, endY := markSpan(roomY)
	for _, y := range []float64{0, h} {
		c.line(-gapX, y, -endX, y)
		c.line(w+gapX, y, w+endX, y)
	}
	for _, x := range []float64{0, w} {
		c.line(x, -gapY, x, -endY)
		c.line(x, h+gapY, x, h+endY)
	}
}

// Cutting marks: how far from the sheet's edge they begin, and how long they are, mm (common practice of printers).
const (
	mostGapMM, gapShare = 1.5, 0.3 // of the room
	markMM              = 5
)

func markSpan(room float64) (gap, end float64) {
	gap = min(mostGapMM, room*gapShare)
	return gap, min(gap+markMM, room)
}
