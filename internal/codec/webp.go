package codec

/*
#cgo pkg-config: libwebp
#include <stdint.h>
#include <webp/decode.h>

static int pt_webp_info(const uint8_t *data, size_t len, int *w, int *h, int *alpha, int *moving) {
	WebPBitstreamFeatures f;
	if (WebPGetFeatures(data, len, &f) != VP8_STATUS_OK) return 1;
	*w = f.width; *h = f.height; *alpha = f.has_alpha; *moving = f.has_animation;
	return 0;
}
static int pt_webp_bgr(const uint8_t *data, size_t len, uint8_t *dst, size_t size, int stride) {
	return WebPDecodeBGRInto(data, len, dst, size, stride) == NULL;
}
static int pt_webp_bgra(const uint8_t *data, size_t len, uint8_t *dst, size_t size, int stride) {
	return WebPDecodeBGRAInto(data, len, dst, size, stride) == NULL;
}
*/
import "C"

import (
	"fmt"
	"unsafe"

	"phototrack/internal/raster"
)

// WebPInfo is what a WebP file's header says.
type WebPInfo struct {
	W, H   int
	Alpha  bool // it has transparent parts
	Moving bool // it is an animation, not a photo
}

// ReadWebPInfo reads the header of a WebP file. Errors: ErrDecode.
func ReadWebPInfo(data []byte) (WebPInfo, error) {
	if len(data) == 0 {
		return WebPInfo{}, ErrDecode
	}
	var w, h, alpha, moving C.int
	if C.pt_webp_info((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)), &w, &h, &alpha, &moving) != 0 {
		return WebPInfo{}, fmt.Errorf("%w: the WebP header is damaged or cut short", ErrDecode)
	}
	return WebPInfo{int(w), int(h), alpha != 0, moving != 0}, nil
}

// WebP decodes a still WebP picture into dst, whose size must be the header's. Transparent parts are laid over white.
func WebP(data []byte, dst raster.BGR, alpha bool) error {
	if err := room(data, dst); err != nil {
		return err
	}
	if i, err := ReadWebPInfo(data); err != nil || i.W != dst.W || i.H != dst.H {
		return fmt.Errorf("%w: the size is not the header's", ErrDecode)
	}
	bad := fmt.Errorf("%w: the WebP data are damaged or cut short", ErrDecode)
	src := (*C.uint8_t)(unsafe.Pointer(&data[0]))
	if !alpha {
		if C.pt_webp_bgr(src, C.size_t(len(data)), (*C.uint8_t)(unsafe.Pointer(&dst.Pix[0])), C.size_t(len(dst.Pix)), C.int(3*dst.W)) != 0 {
			return bad
		}
		return nil
	}
	four := make([]byte, 4*dst.W*dst.H)
	if C.pt_webp_bgra(src, C.size_t(len(data)), (*C.uint8_t)(unsafe.Pointer(&four[0])), C.size_t(len(four)), C.int(4*dst.W)) != 0 {
		return bad
	}
	overWhite(dst.Pix, four)
	return nil
}

// overWhite lays four channels, the last of them opacity, over white; the colours are not premultiplied.
func overWhite(dst, four []byte) {
	for i, j := 0, 0; j+3 < len(four); i, j = i+3, j+4 {
		a := uint32(four[j+3])
		for k := range 3 {
			dst[i+k] = byte((uint32(four[j+k])*a + 255*(255-a) + 127) / 255)
		}
	}
}
