// Package raster holds plain pixel grids: 8-bit colour pictures and masks. Row by row, no padding.
package raster

// BGR is an 8-bit picture, three bytes a pixel in the order blue, green, red (OpenCV's order).
type BGR struct {
	W, H int
	Pix  []uint8 // len 3*W*H
}

// NewBGR makes a black picture.
func NewBGR(w, h int) BGR { return BGR{w, h, make([]uint8, 3*w*h)} }

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
