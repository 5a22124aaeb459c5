// Package raster holds plain pixel grids: 8-bit colour pictures and masks. Row by row, no padding.
package raster

import "image"

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
	for i, n := 0, b.W*b.H; i < n; i++ {
		p := b.Pix[3*i : 3*i+3 : 3*i+3]
		q := out.Pix[4*i : 4*i+4 : 4*i+4]
		q[0], q[1], q[2], q[3] = p[2], p[1], p[0], 255
	}
	return out
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
