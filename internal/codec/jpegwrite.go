package codec

/*
#cgo pkg-config: libjpeg
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <jpeglib.h>

typedef struct {
	struct jpeg_error_mgr mgr;
	jmp_buf back;
	char *msg;
} pt_jpegw_err;

static void pt_jpegw_exit(j_common_ptr c) {
	pt_jpegw_err *e = (pt_jpegw_err *)c->err;
	c->err->format_message(c, e->msg);
	longjmp(e->back, 1);
}

static void pt_jpegw_silent(j_common_ptr c) { (void)c; }

// The buffer that *out points to is the caller's to free, also after an error. channels: 3 is BGR, 4 is RGBX.
static int pt_jpeg_encode(const uint8_t *pix, int w, int h, int stride, int channels, int quality, unsigned char **out, unsigned long *len, char *msg) {
	struct jpeg_compress_struct c;
	pt_jpegw_err err;
	memset(&c, 0, sizeof c);
	err.msg = msg;
	c.err = jpeg_std_error(&err.mgr);
	err.mgr.error_exit = pt_jpegw_exit;
	err.mgr.output_message = pt_jpegw_silent;
	if (setjmp(err.back)) {
		jpeg_destroy_compress(&c);
		return 1;
	}
	jpeg_create_compress(&c);
	jpeg_mem_dest(&c, out, len);
	c.image_width = w;
	c.image_height = h;
	c.input_components = channels;
	c.in_color_space = channels == 3 ? JCS_EXT_BGR : JCS_EXT_RGBX;
	jpeg_set_defaults(&c);
	jpeg_set_quality(&c, quality, TRUE);
	c.dct_method = JDCT_ISLOW; // the exact transform: the same bytes on every processor
	jpeg_start_compress(&c, TRUE);
	while (c.next_scanline < c.image_height) {
		JSAMPROW row = (JSAMPROW)(pix + (size_t)stride * c.next_scanline);
		jpeg_write_scanlines(&c, &row, 1);
	}
	jpeg_finish_compress(&c);
	jpeg_destroy_compress(&c);
	return 0;
}
*/
import "C"

import (
	"errors"
	"fmt"
	"image"
	"unsafe"

	"phototrack/internal/raster"
)

// ErrEncode says that a picture could not be written as JPEG.
var ErrEncode = errors.New("not encodable")

// maxJPEGSide is the longest side that JPEG can hold.
const maxJPEGSide = 65500

// WriteJPEG encodes a picture as baseline JPEG, colour at half the resolution (4:2:0), quality 1 to 100, without EXIF data.
// The same picture gives the same bytes.
func WriteJPEG(img raster.BGR, quality int) ([]byte, error) {
	if len(img.Pix) != 3*img.W*img.H {
		return nil, fmt.Errorf("%w: %d x %d px of %d bytes", ErrEncode, img.W, img.H, len(img.Pix))
	}
	return writeJPEG(interleaved{pix: img.Pix, w: img.W, h: img.H, channels: 3, stride: 3 * img.W}, quality)
}

// WriteJPEGOf is WriteJPEG for a picture in Go's own form; how see-through it is goes unheeded.
func WriteJPEGOf(img *image.NRGBA, quality int) ([]byte, error) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if w < 1 || h < 1 || img.Stride < rgba*w || len(img.Pix) < (h-1)*img.Stride+rgba*w {
		return nil, fmt.Errorf("%w: %d x %d px of %d bytes", ErrEncode, w, h, len(img.Pix))
	}
	return writeJPEG(interleaved{pix: img.Pix, w: w, h: h, channels: rgba, stride: img.Stride}, quality)
}

// bestQuality is the upper end of libjpeg's scale of quality.
const bestQuality = 100

func writeJPEG(m interleaved, quality int) ([]byte, error) {
	if m.w < 1 || m.h < 1 || m.w > maxJPEGSide || m.h > maxJPEGSide || quality < 1 || quality > bestQuality {
		return nil, fmt.Errorf("%w: %d x %d px, quality %d", ErrEncode, m.w, m.h, quality)
	}
	var msg [C.JMSG_LENGTH_MAX]C.char
	var out *C.uchar
	var n C.ulong
	rc := C.pt_jpeg_encode((*C.uint8_t)(unsafe.Pointer(&m.pix[0])), C.int(m.w), C.int(m.h), C.int(m.stride), C.int(m.channels), C.int(quality), &out, &n, &msg[0])
	defer C.free(unsafe.Pointer(out))
	if rc != 0 {
		return nil, fmt.Errorf("%w: %s", ErrEncode, C.GoString(&msg[0]))
	}
	return C.GoBytes(unsafe.Pointer(out), C.int(n)), nil
}
