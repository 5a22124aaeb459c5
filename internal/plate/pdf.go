package plate

import (
	"bytes"
	"fmt"
	"image"
	"image/color"

	"codeberg.org/go-pdf/fpdf"

	"phototrack/internal/codec"
	"phototrack/internal/fonts"
)

// jpegQuality of pictures in a PDF: no block is visible at reading distance, and a plate stays under a few MB.
const jpegQuality = 93

// page is a surface of one PDF page: text stays text, fonts are embedded (only the letters used), and a length in px
// of the preset is that length on paper.
type page struct {
	pdf *fpdf.Fpdf
	mm  float64 // mm of paper per px
	n   int
	err error
}

// newPDF opens a document with the plates' fonts.
func newPDF(wMM, hMM float64, title string) *fpdf.Fpdf {
	o := "P"
	if wMM > hMM {
		o = "L"
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: o, UnitStr: "mm", Size: fpdf.SizeType{Wd: min(wMM, hMM), Ht: max(wMM, hMM)}})
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCatalogSort(true) // the same plate gives the same file, its date apart
	pdf.SetTitle(title, true)
	pdf.SetCreator("phototrack", true)
	pdf.SetLang("en")
	fonts.AddTo(pdf)
	return pdf
}

func (p *page) fill(x, y, w, h float64, c color.NRGBA) {
	p.pdf.SetFillColor(int(c.R), int(c.G), int(c.B))
	p.pdf.Rect(x*p.mm, y*p.mm, w*p.mm, h*p.mm, "F")
}

func (p *page) text(x, base float64, l lettering, s string) {
	p.pdf.SetFont(string(l.face), "", l.size*p.mm*72/25.4)
	switch l.align {
	case centre:
		x -= p.width(l.size, l.face, s) / 2
	case right:
		x -= p.width(l.size, l.face, s)
	}
	p.pdf.SetTextColor(int(l.ink.R), int(l.ink.G), int(l.ink.B))
	p.pdf.Text(x*p.mm, base*p.mm, s)
}

func (p *page) width(size float64, f face, s string) float64 {
	p.pdf.SetFont(string(f), "", size*p.mm*72/25.4)
	return p.pdf.GetStringWidth(s) / p.mm
}

func (p *page) line(pts []Point, width float64, c color.NRGBA) {
	p.pdf.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.pdf.SetLineWidth(width * p.mm)
	p.pdf.SetLineCapStyle("round")
	p.pdf.SetLineJoinStyle("round")
	for i, q := range pts {
		if i == 0 {
			p.pdf.MoveTo(q.X*p.mm, q.Y*p.mm)
		} else {
			p.pdf.LineTo(q.X*p.mm, q.Y*p.mm)
		}
	}
	if len(pts) > 1 {
		p.pdf.DrawPath("D")
	}
}

func (p *page) picture(x, y int, m *image.NRGBA) {
	data, err := codec.WriteJPEGOf(m, jpegQuality)
	if err != nil {
		p.err = err
		return
	}
	p.n++
	name := fmt.Sprintf("p%d", p.n)
	opt := fpdf.ImageOptions{ImageType: "JPEG"}
	p.pdf.RegisterImageOptionsReader(name, opt, bytes.NewReader(data))
	p.pdf.ImageOptions(name, float64(x)*p.mm, float64(y)*p.mm, float64(m.Bounds().Dx())*p.mm, float64(m.Bounds().Dy())*p.mm, false, opt, 0, "")
}
