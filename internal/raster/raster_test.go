package raster

import (
	"image/color"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestImageHoldsThePicture(t *testing.T) {
	b := NewBGR(7, 5)
	for i := range b.Pix {
		b.Pix[i] = uint8(i*37 + i*i)
	}
	img := b.Image()
	for y := range b.H {
		for x := range b.W {
			p := b.Pix[3*(y*b.W+x):]
			require.Equal(t, color.NRGBA{p[2], p[1], p[0], 255}, img.NRGBAAt(x, y))
		}
	}
	require.Equal(t, b, FromImage(img))
}
