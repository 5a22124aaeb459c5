package plate

import (
	"image"
	"image/color"
)

// Later is a picture that is opened when it is drawn, so that a set of many plates holds one at a time.
type Later struct {
	Size image.Point
	Open func() *image.NRGBA // one that nobody else looks at; nil where it is gone
}

// ColorModel is that of what is opened.
func (l Later) ColorModel() color.Model { return color.NRGBAModel }

// Bounds is known before.
func (l Later) Bounds() image.Rectangle { return image.Rectangle{Max: l.Size} }

// At opens the picture for one pixel: use opened.
func (l Later) At(x, y int) color.Color { return l.opened().At(x, y) }

// opened is the picture, or the ground where it is gone or has become another.
func (l Later) opened() *image.NRGBA {
	if m := l.Open(); m != nil && m.Rect == l.Bounds() {
		return m
	}
	m := image.NewNRGBA(l.Bounds())
	for i := 0; i < len(m.Pix); i += 4 {
		m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = ground.R, ground.G, ground.B, ground.A
	}
	return m
}
