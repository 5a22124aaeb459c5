// Package raster holds plain pixel grids: 8-bit colour pictures and masks. Row by row, no padding.
package raster

import (
	"encoding/binary"
	"image"
)

// BGR is an 8-bit picture, three bytes a pixel in the order blue, green, red (OpenCV's order).
type BGR struct {
	W, H int
	Pix  []uint8 // len 3*W*H
}

// NewBGR makes a black picture.
func NewBGR(w, h int) BGR { return BGR{w, h, make([]uint8, 3*w*h)} }

// FromImage copies a picture of Go's own form; transparency is dropped.
func FromImage(img image.Image) BGR {
	b := img.Bounds()
	out := NewBGR(b.Dx(), b.Dy())
	i := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			out.Pix[i], out.Pix[i+1], out.Pix[i+2] = uint8(bl>>8), uint8(g>>8), uint8(r>>8)
			i += 3
		}
	}
	return out
}

// Image copies the picture into Go's own form.
func (b BGR) Image() *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, b.W, b.H))
	b.Spread(out.Pix)
	return out
}

// Spread writes the picture's pixels as red, green, blue and 255, four bytes each, to the start of pix.
func (b BGR) Spread(pix []uint8) {
	from := b.Pix[:3*b.W*b.H]
	for len(from) >= 3 && len(pix) >= 4 {
		binary.LittleEndian.PutUint32(pix, uint32(from[2])|uint32(from[1])<<8|uint32(from[0])<<16|255<<24)
		from, pix = from[3:], pix[4:]
	}
}

// Mask is one byte a pixel; 0 is outside.
type Mask struct {
	W, H int
	Pix  []uint8 // len W*H
}

// NewMask makes an empty mask.
func NewMask(w, h int) Mask { return Mask{w, h, make([]uint8, w*h)} }

// Float is one float32 a pixel.
type Float struct {
	W, H int
	Pix  []float32 // len W*H
}

// NewFloat makes a grid of zeros.
func NewFloat(w, h int) Float { return Float{w, h, make([]float32, w*h)} }
