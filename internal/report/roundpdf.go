package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"phototrack/internal/fonts"
	"phototrack/internal/pdfcolour"
	"phototrack/internal/words"
)

// The sheet's page, mm.
const (
	sheetW, sheetH  = 210.0, 297.0
	sheetMargin     = 14.0
	sheetRow        = 31.0
	sheetPhoto      = 34.0
	sheetFirstRow   = 42.0
	sheetBottomEdge = sheetH - 16
)

// roundAdvice stands at the head of the sheet: what makes photos of different months comparable.
const roundAdvice = "Same place, same light, before watering. Card in the plane of the leaves (side L) or level with the pot's middle (side R). Two photos of each view."

// decodeDataURI gives the bytes behind a picture of the page.
func decodeDataURI(u template.URL) []byte {
	_, data, ok := strings.Cut(string(u), ",")
	if !ok {
		return nil
	}
	b, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		return nil
	}
	return b
}

// WriteRoundPDF writes the next round's sheet as a PDF of A4 pages, to be taken to the bench.
func WriteRoundPDF(w io.Writer, d Data) error {
	_, p, err := newRound(d)
	if err != nil {
		return err
	}
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetTitle("Photo round, "+d.Collection, true)
	pdf.SetCreator("phototrack", true)
	pdf.SetLang("en")
	fonts.AddTo(pdf)
	s := &sheet{pdf: pdf}
	s.page(&p, true)
	y := sheetFirstRow
	for i := range p.Items {
		if y+sheetRow > sheetBottomEdge {
			s.page(&p, false)
			y = sheetFirstRow - 14
		}
		s.row(&p.Items[i], i, y)
		y += sheetRow
	}
	return pdfcolour.Write(w, pdf)
}

// sheet draws the pages.
type sheet struct {
	pdf *fpdf.Fpdf
	n   int
}

// lettering is how words are set: face, size in points, and how light a grey.
type lettering struct {
	face fonts.Face
	pt   float64
	grey int
}

func (s *sheet) text(x, y float64, l lettering, text string) {
	s.pdf.SetFont(string(l.face), "", l.pt)
	s.pdf.SetTextColor(l.grey, l.grey, l.grey)
	s.pdf.Text(x, y, fonts.Clean(text))
}

func (s *sheet) page(p *roundPage, first bool) {
	s.pdf.AddPage()
	s.n++
	if first {
		s.text(sheetMargin, 22, lettering{fonts.Serif, 24, 20}, "Photo round")
		s.text(sheetMargin, 29, lettering{fonts.SerifItalic, 10.5, 90}, fmt.Sprintf("%s, after %s. %s, %s; %d to do better than last time.", p.Collection, p.Title,
			words.Count(p.Plants, "plant", "plants"), words.Count(len(p.Items), "view", "views"), p.Mend))
		for i, l := range s.wrap(roundAdvice, fonts.Sans, 9, sheetW-2*sheetMargin) {
			s.text(sheetMargin, 34.5+4*float64(i), lettering{fonts.Sans, 9, 90}, l)
		}
	}
	s.text(sheetMargin, sheetH-9, lettering{fonts.Sans, 8.5, 110}, p.Collection)
	s.text(sheetW-sheetMargin-6, sheetH-9, lettering{fonts.Sans, 8.5, 110}, fmt.Sprint(s.n))
}

// pictureGap and lineGap, mm, are kept free at the lower end of a row of the sheet.
const pictureGap, lineGap = 4, 1.5

// row draws one view: box, number, photo, what to mend, lines for a note.
func (s *sheet) row(it *roundItem, i int, y float64) {
	pdf := s.pdf
	pdf.SetDrawColor(150, 150, 150)
	pdf.SetLineWidth(0.2)
	pdf.Line(sheetMargin, y, sheetW-sheetMargin, y)
	pdf.SetDrawColor(20, 20, 20)
	pdf.SetLineWidth(0.4)
	pdf.Rect(sheetMargin, y+4, 6.5, 6.5, "D")
	s.text(sheetMargin+10, y+10, lettering{fonts.SansBold, 17, 20}, fmt.Sprint(it.Plant))
	x := sheetMargin + 26
	if it.jpeg != nil {
		name := fmt.Sprintf("r%d", i)
		opt := fpdf.ImageOptions{ImageType: "JPEG"}
		pdf.RegisterImageOptionsReader(name, opt, bytes.NewReader(it.jpeg))
		h := min(sheetPhoto*float64(it.Picture.H)/float64(it.Picture.W), sheetRow-pictureGap)
		pdf.ImageOptions(name, x, y+2, h*float64(it.Picture.W)/float64(it.Picture.H), h, false, opt, 0, "")
	} else {
		pdf.SetDrawColor(190, 190, 190)
		pdf.Rect(x, y+2, sheetPhoto, sheetRow-5, "D")
		s.text(x+7, y+16, lettering{fonts.SerifItalic, 8.5, 120}, "no photo yet")
	}
	x += sheetPhoto + 5
	s.text(x, y+6.5, lettering{fonts.Serif, 11.5, 20}, s.cut(it.Name, fonts.Serif, 11.5, 72))
	s.text(x, y+11, lettering{fonts.Sans, 9, 90}, it.View+", last "+it.Last)
	ty := y + 15.5
	lines := it.Mend
	if it.Why != "" {
		lines = append([]string{words.Upper(it.Why) + "."}, lines...)
	}
	if it.Parts != "" {
		lines = append([]string{"Look at: " + it.Parts + "."}, lines...)
	}
	var parts []string
	for _, l := range lines {
		parts = append(parts, s.wrap(l, fonts.SerifItalic, 9, 72)...)
	}
	for _, part := range parts {
		if ty > y+sheetRow-lineGap {
			break // the page of the sheet says the rest
		}
		s.text(x, ty, lettering{fonts.SerifItalic, 9, 40}, part)
		ty += 4
	}
	pdf.SetDrawColor(190, 190, 190)
	pdf.SetLineWidth(0.15)
	for k := range 3 {
		ny := y + 11 + 7*float64(k)
		pdf.Line(sheetW-sheetMargin-41, ny, sheetW-sheetMargin, ny)
	}
}

// wrap breaks a text into lines of a width in mm.
func (s *sheet) wrap(text string, f fonts.Face, pt, width float64) []string {
	s.pdf.SetFont(string(f), "", pt)
	return fonts.Wrap(text, mostLines, width, s.pdf.GetStringWidth)
}

// mostLines is more than a row of the sheet has room for.
const mostLines = 12

// cut shortens a text to a width in mm.
func (s *sheet) cut(text string, f fonts.Face, pt, width float64) string {
	s.pdf.SetFont(string(f), "", pt)
	return fonts.Cut(text, width, s.pdf.GetStringWidth)
}
