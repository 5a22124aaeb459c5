package plate

import (
	"fmt"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"

	"phototrack/internal/fonts"
)

// face is a font of the plates.
type face = fonts.Face

const (
	serif       = fonts.Serif
	serifItalic = fonts.SerifItalic
	sans        = fonts.Sans
	sansBold    = fonts.SansBold
)

// parsed reads the fonts once.
var parsed = sync.OnceValues(func() (map[face]*sfnt.Font, error) {
	out := map[face]*sfnt.Font{}
	for _, f := range fonts.All() {
		t, err := opentype.Parse(f.TTF())
		if err != nil {
			return nil, fmt.Errorf("font %s: %w", f, err)
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
