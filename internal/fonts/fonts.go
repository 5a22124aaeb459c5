// Package fonts holds the faces that are embedded in the program's pictures and PDF files: Liberation Serif and Sans,
// free to embed under the SIL Open Font License 1.1.
package fonts

import (
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-fonts/liberation/liberationserifitalic"
	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"codeberg.org/go-pdf/fpdf"
)

// Face names one of the embedded fonts.
type Face string

// The faces.
const (
	Serif       Face = "serif"
	SerifItalic Face = "serifitalic"
	Sans        Face = "sans"
	SansBold    Face = "sansbold"
)

// All lists the faces.
func All() []Face { return []Face{Serif, SerifItalic, Sans, SansBold} }

// TTF is the TrueType file of a face; an unknown name gives the serif.
func (f Face) TTF() []byte {
	switch f {
	case SerifItalic:
		return liberationserifitalic.TTF
	case Sans:
		return liberationsansregular.TTF
	case SansBold:
		return liberationsansbold.TTF
	}
	return liberationserifregular.TTF
}

// AddTo makes all faces known to a PDF under their names; only the letters that are used end up in the file.
func AddTo(pdf *fpdf.Fpdf) {
	for _, f := range All() {
		pdf.AddUTF8FontFromBytes(string(f), "", f.TTF())
	}
}
