package codec

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"

	"phototrack/internal/raster"
)

// ReadJPEG decodes a JPEG of the program's own, such as a stored working picture, into Go's form. Errors: ErrDecode.
func ReadJPEG(data []byte) (*image.NRGBA, error) { return ReadJPEGInto(data, fresh) }

// ReadJPEGInto is ReadJPEG into a picture of the size asked for, without gaps between its rows; what is in it is written over.
func ReadJPEGInto(data []byte, room func(w, h int) *image.NRGBA) (*image.NRGBA, error) {
	w, h, err := JPEGSize(data)
	if err != nil {
		return nil, err
	}
	return readInto(data, w, h, 1, room)
}

// mostReduced is how much smaller a picture can be decoded at once: a block of 8 x 8 px as one (libjpeg-turbo, libjpeg.txt, "scale_num").
const mostReduced = 8

// rgba are the bytes of a pixel in Go's own form.
const rgba = 4

// ReadJPEGAtLeast is ReadJPEG at a half, a quarter or an eighth of the size, as long as the picture is no narrower than
// asked for. That takes a fraction of the time: of each block only the coarse waves are worked out.
func ReadJPEGAtLeast(data []byte, width int) (*image.NRGBA, error) {
	w, h, err := JPEGSize(data)
	if err != nil {
		return nil, err
	}
	by := 1
	for by < mostReduced && w/(2*by) >= max(width, 1) {
		by *= 2
	}
	return readInto(data, w, h, by, fresh)
}

func fresh(w, h int) *image.NRGBA { return image.NewNRGBA(image.Rect(0, 0, w, h)) }

func readInto(data []byte, w, h, by int, room func(w, h int) *image.NRGBA) (*image.NRGBA, error) {
	size := image.Rect(0, 0, (w+by-1)/by, (h+by-1)/by)
	img := room(size.Dx(), size.Dy())
	if img.Rect != size || img.Stride != rgba*size.Dx() || len(img.Pix) != img.Stride*size.Dy() {
		return nil, fmt.Errorf("%w: no room for %d x %d px", ErrDecode, size.Dx(), size.Dy())
	}
	if _, err := decodeJPEG(data, interleaved{pix: img.Pix, w: w, h: h, channels: rgba}, by); err != nil {
		return nil, err
	}
	return img, nil
}

// ReadJPEGBGR is ReadJPEG in the form that is measured.
func ReadJPEGBGR(data []byte) (raster.BGR, error) {
	w, h, err := JPEGSize(data)
	if err != nil {
		return raster.BGR{}, err
	}
	img := raster.NewBGR(w, h)
	_, err = JPEG(data, img)
	if err != nil {
		return raster.BGR{}, err
	}
	return img, nil
}

// JPEGSize is the size that a JPEG's header gives, where it is one of the program's own.
func JPEGSize(data []byte) (w, h int, err error) {
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return 0, 0, fmt.Errorf("%w: %v", ErrDecode, err)
	}
	if c.Width < 1 || c.Height < 1 || c.Width*c.Height > maxOwnPixels {
		return 0, 0, fmt.Errorf("%w: %d x %d px", ErrDecode, c.Width, c.Height)
	}
	return c.Width, c.Height, nil
}

// maxOwnPixels bounds what ReadJPEG opens: working pictures are a few megapixels.
const maxOwnPixels = 100_000_000
