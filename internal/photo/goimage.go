package photo

import (
	"fmt"
	stdimage "image"
	"math"

	"phototrack/internal/raster"
)

type image = stdimage.Image

// contained runs a decoder and turns a panic into an error.
func contained[T any](decode func() (T, error)) (out T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the decoder failed: %v", p)
		}
	}()
	return decode()
}

// fromImage copies a decoded picture, transparent parts over white, 16 bits rounded to 8.
func fromImage(img image, h *header) (raster.BGR, error) {
	b := img.Bounds()
	if b.Dx() != h.width || b.Dy() != h.height {
		return raster.BGR{}, fmt.Errorf("%w: the picture has %d x %d px, its header says %d x %d", ErrUnreadable, b.Dx(), b.Dy(), h.width, h.height)
	}
	out := raster.NewBGR(h.width, h.height)
	switch p := img.(type) {
	case *stdimage.RGBA:
		if p.Opaque() {
			copyRGBA(out, p.Pix, p.Stride)
			return out, nil
		}
	case *stdimage.NRGBA:
		if p.Opaque() {
			copyRGBA(out, p.Pix, p.Stride)
			return out, nil
		}
	}
	deep, ok := img.(stdimage.RGBA64Image)
	if !ok {
		return raster.BGR{}, fmt.Errorf("%w: pixels of the kind %T", ErrUnknownFormat, img)
	}
	copyOverWhite(out, deep)
	return out, nil
}

func copyRGBA(out raster.BGR, pix []byte, stride int) {
	for y := range out.H {
		src := pix[y*stride : y*stride+4*out.W]
		dst := out.Pix[3*y*out.W : 3*(y+1)*out.W]
		for i, j := 0, 0; j+3 < len(src); i, j = i+3, j+4 {
			dst[i], dst[i+1], dst[i+2] = src[j+2], src[j+1], src[j]
		}
	}
}

// copyOverWhite takes premultiplied 16-bit values: what opacity leaves free is filled with white.
func copyOverWhite(out raster.BGR, img stdimage.RGBA64Image) {
	b := img.Bounds()
	i := 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := img.RGBA64At(x, y)
			free := 0xFFFF - uint32(c.A)
			out.Pix[i] = to8(uint32(c.B) + free)
			out.Pix[i+1] = to8(uint32(c.G) + free)
			out.Pix[i+2] = to8(uint32(c.R) + free)
			i += 3
		}
	}
}

// to8 rounds 0..65535 to 0..255.
func to8(v uint32) byte {
	return byte((min(v, math.MaxUint16)*math.MaxUint8 + math.MaxUint16/2) / math.MaxUint16)
}
