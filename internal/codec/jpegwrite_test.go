package codec

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// smooth is a picture of soft colours, which JPEG renders closely.
func smooth(w, h int) raster.BGR {
	img := raster.NewBGR(w, h)
	for y := range h {
		for x := range w {
			p := img.Pix[3*(y*w+x):]
			p[0], p[1], p[2] = uint8(60+x/2%120), uint8(90+y/2%120), uint8(200-(x+y)/4%120)
		}
	}
	return img
}

// Go's own decoder, an independent implementation, sees the picture that was written.
func TestWriteJPEGIsReadByAnother(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {7, 5}, {16, 16}, {321, 200}} {
		img := smooth(size[0], size[1])
		rgba := image.NewNRGBA(image.Rect(0, 0, img.W, img.H))
		for i := range img.W * img.H {
			rgba.Pix[4*i], rgba.Pix[4*i+1], rgba.Pix[4*i+2] = img.Pix[3*i+2], img.Pix[3*i+1], img.Pix[3*i]
		}
		a, err := WriteJPEG(img, 90)
		require.NoError(t, err)
		b, err := WriteJPEGOf(rgba, 90)
		require.NoError(t, err)
		assert.Equal(t, a, b, "both forms hold the same picture")
		assert.False(t, bytes.Contains(a, []byte("Exif")))
		got, err := jpeg.Decode(bytes.NewReader(a))
		require.NoError(t, err)
		require.Equal(t, rgba.Rect, got.Bounds())
		var sum float64
		for y := range img.H {
			for x := range img.W {
				r, g, b, _ := got.At(x, y).RGBA()
				p := img.Pix[3*(y*img.W+x):]
				for i, v := range []uint32{b, g, r} {
					sum += math.Pow(float64(v>>8)-float64(p[i]), 2)
				}
			}
		}
		assert.Less(t, math.Sqrt(sum/float64(3*img.W*img.H)), 3.0, "rms difference of %v", size)
	}
}

func TestWriteJPEGRefusesWhatIsNoPicture(t *testing.T) {
	for name, img := range map[string]raster.BGR{"nothing": {}, "short": {W: 4, H: 4, Pix: make([]uint8, 47)}, "too wide": {W: 70000, H: 1, Pix: make([]uint8, 210000)}} {
		_, err := WriteJPEG(img, 80)
		assert.ErrorIs(t, err, ErrEncode, name)
	}
	_, err := WriteJPEG(smooth(4, 4), 0)
	assert.ErrorIs(t, err, ErrEncode)
	_, err = WriteJPEGOf(&image.NRGBA{Rect: image.Rect(0, 0, 4, 4), Stride: 8, Pix: make([]uint8, 64)}, 80)
	assert.ErrorIs(t, err, ErrEncode)
}
