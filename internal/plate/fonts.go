package plate

import (
	"fmt"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-fonts/liberation/liberationserifitalic"
	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
)

// fontData gives a face's TrueType file.
func fontData(f face) []byte {
	switch f {
	case serifItalic:
		return liberationserifitalic.TTF
	case sans:
		return liberationsansregular.TTF
	case sansBold:
		return liberationsansbold.TTF
	}
	return liberationserifregular.TTF
}

// fontName is the name under which a face stands in a PDF.
func fontName(f face) string {
	return [...]string{"serif", "serifitalic", "sans", "sansbold"}[f]
}

// parsed reads the four fonts once.
var parsed = sync.OnceValues(func() (map[face]*sfnt.Font, error) {
	out := map[face]*sfnt.Font{}
	for _, f := range []face{serif, serifItalic, sans, sansBold} {
		t, err := opentype.Parse(fontData(f))
		if err != nil {
			return nil, fmt.Errorf("font %s: %w", fontName(f), err)
		}
		out[f] = t
	}
	return out, nil
})

// sized makes a face at a size in px.
func sized(f face, px float64) (font.Face, error) {
	all, err := parsed()
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(all[f], &opentype.FaceOptions{Size: px, DPI: 72, Hinting: font.HintingNone})
}
