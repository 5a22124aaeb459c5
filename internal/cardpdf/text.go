package cardpdf

import (
	"strings"

	"codeberg.org/go-fonts/liberation/liberationmonobold"
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// A face is a font family and style as fpdf names them.
type face struct{ family, style string }

// font is a face at a size.
type font struct {
	face
	sizePt float64
}

func (f face) at(sizePt float64) font { return font{f, sizePt} }

var (
	regular = face{"sans", ""}
	bold    = face{"sans", "B"}
	mono    = face{"mono", "B"}
)

const (
	ptMM = inchMM / 72 // one typographic point in mm
	// digitHeightEM is the height of Liberation Sans figures in units of the font size (1409/2048 for
	// capitals; figures overshoot a little).
	digitHeightEM = 0.70
)

func addFonts(pdf *fpdf.Fpdf) {
	// fpdf subsets what it embeds from its own copy of the bytes, so the shared slices stay untouched.
	pdf.AddUTF8FontFromBytes(regular.family, regular.style, liberationsansregular.TTF)
	pdf.AddUTF8FontFromBytes(bold.family, bold.style, liberationsansbold.TTF)
	pdf.AddUTF8FontFromBytes(mono.family, mono.style, liberationmonobold.TTF)
}

// coverage knows which letters the text font has: Latin with all its accents, Greek, Cyrillic, Hebrew.
type coverage struct {
	font *sfnt.Font
	buf  *sfnt.Buffer
}

func newCoverage() coverage {
	f, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		panic("cardpdf: the embedded font does not parse: " + err.Error()) // a broken build, not a broken input
	}
	return coverage{font: f, buf: new(sfnt.Buffer)}
}

const (
	delete     = 0x7f   // the control character above the letters of ASCII
	lastOfFont = 0xffff // fpdf's Unicode fonts reach no further
)

// clean makes a grower's text printable: accents composed (spreadsheets on some systems store them
// apart), control characters and line breaks to spaces, and letters the font lacks to a hollow square,
// so that a gap shows on the print instead of passing in silence.
func (c coverage) clean(s string) string {
	s = strings.Join(strings.Fields(norm.NFC.String(s)), " ")
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == delete {
			return -1
		}
		if i, err := c.font.GlyphIndex(c.buf, r); err != nil || i == 0 || r > lastOfFont {
			return '□'
		}
		return r
	}, s)
}

// text writes one line with its baseline's left end at (x, y).
func (c canvas) text(f font, x, y float64, s string) {
	c.pdf.SetFont(f.family, f.style, f.sizePt)
	c.pdf.Text(c.x+x, c.y+y, s)
}

// textCentred writes one line centred on x.
func (c canvas) textCentred(f font, x, y float64, s string) {
	c.text(f, x-c.width(f, s)/2, y, s)
}

// textRight writes one line that ends at x.
func (c canvas) textRight(f font, x, y float64, s string) {
	c.text(f, x-c.width(f, s), y, s)
}

func (c canvas) width(f font, s string) float64 {
	c.pdf.SetFont(f.family, f.style, f.sizePt)
	return c.pdf.GetStringWidth(s)
}

// paragraph writes s in lines no wider than w, the first baseline at y, and returns the baseline that
// would come next.
func (c canvas) paragraph(f font, x, y, w float64, s string) float64 {
	for _, line := range c.wrap(f, w, s) {
		c.text(f, x, y, line)
		y += f.sizePt * ptMM * 1.3
	}
	return y
}

// wrap breaks s at spaces into lines no wider than w; a word wider than w stays whole.
func (c canvas) wrap(f font, w float64, s string) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if line != "" && c.width(f, longer) > w {
			lines = append(lines, line)
			longer = word
		}
		line = longer
	}
	return append(lines, line)
}

// fit shortens s with an ellipsis until it is no wider than w.
func (c canvas) fit(f font, w float64, s string) string {
	if c.width(f, s) <= w {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && c.width(f, string(r)+"…") > w {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}
