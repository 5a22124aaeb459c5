package codec

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"

	"phototrack/internal/raster"
)

// ReadJPEG decodes a JPEG of the program's own, such as a stored working picture, into Go's form. Errors: ErrDecode.
func ReadJPEG(data []byte) (*image.NRGBA, error) {
	w, h, err := ownSize(data)
	if err != nil {
		return nil, err
	}
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	_, err = decodeJPEG(data, img.Pix, w, h, 4)
	if err != nil {
		return nil, err
	}
	return img, nil
}

// ReadJPEGBGR is ReadJPEG in the form that is measured.
func ReadJPEGBGR(data []byte) (raster.BGR, error) {
	w, h, err := ownSize(data)
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

// ownSize is the size that a JPEG's header gives, where it is one of the program's own.
func ownSize(data []byte) (w, h int, err error) {
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
