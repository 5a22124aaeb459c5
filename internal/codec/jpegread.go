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
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrDecode, err)
	}
	if c.Width < 1 || c.Height < 1 || c.Width*c.Height > maxOwnPixels {
		return nil, fmt.Errorf("%w: %d x %d px", ErrDecode, c.Width, c.Height)
	}
	img := raster.NewBGR(c.Width, c.Height)
	if _, err := JPEG(data, img); err != nil {
		return nil, err
	}
	return img.Image(), nil
}

// maxOwnPixels bounds what ReadJPEG opens: working pictures are a few megapixels.
const maxOwnPixels = 100_000_000
