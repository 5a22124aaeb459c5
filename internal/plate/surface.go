package plate

import (
	"image"
	"image/color"
)

// Where a text stands to its position.
const (
	left = iota
	centre
	right
)

// The plates' inks: paper, ink, quiet, accent.
var (
	paperInk   = color.NRGBA{250, 248, 241, 255}
	darkInk    = color.NRGBA{34, 39, 31, 255}
	quietInk   = color.NRGBA{90, 96, 84, 255}
	accentInk  = color.NRGBA{214, 78, 28, 255}
	accentDark = color.NRGBA{143, 61, 31, 255}
	oldRootInk = color.NRGBA{240, 238, 226, 255}
)

// lettering is how words are set: size in px, face, ink, and which of their ends (left, centre, right) stands at the place that is named.
type lettering struct {
	size  float64
	face  face
	ink   color.NRGBA
	align int
}

// surface is what a plate is laid out on: a picture or a page. All lengths are px of the preset.
type surface interface {
	fill(x, y, w, h float64, c color.NRGBA)
	text(x, base float64, l lettering, s string)
	width(size float64, f face, s string) float64
	picture(x, y int, m *image.NRGBA)
	line(pts []Point, width float64, c color.NRGBA)
}
