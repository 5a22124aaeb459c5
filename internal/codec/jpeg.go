package codec

/*
#cgo pkg-config: libjpeg
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <jpeglib.h>
#include <jerror.h>

typedef struct {
	struct jpeg_error_mgr mgr;
	jmp_buf back;
	char *msg;          // JMSG_LENGTH_MAX bytes, the first message that matters
	long damaged;       // warnings that say that picture data are missing or wrong
	long stray;         // bytes that belong to nothing
} pt_jpeg_err;

static void pt_jpeg_exit(j_common_ptr c) {
	pt_jpeg_err *e = (pt_jpeg_err *)c->err;
	if (e->damaged == 0) c->err->format_message(c, e->msg);
	longjmp(e->back, 1);
}

// Warnings that leave the pixels as they were: an odd version, an odd colour marker.
static int pt_jpeg_harmless(int code) {
	return code == JWRN_JFIF_MAJOR || code == JWRN_ADOBE_XFORM || code == JWRN_TOO_MUCH_DATA;
}

static void pt_jpeg_emit(j_common_ptr c, int level) {
	pt_jpeg_err *e = (pt_jpeg_err *)c->err;
	if (level >= 0 || pt_jpeg_harmless(c->err->msg_code)) return;
	if (c->err->msg_code == JWRN_EXTRANEOUS_DATA) {
		e->stray += c->err->msg_parm.i[0];
		return;
	}
	if (e->damaged++ == 0) c->err->format_message(c, e->msg);
}

static void pt_jpeg_silent(j_common_ptr c) { (void)c; }

// Returns 0, or 1 with a message: an error of the library, damaged data, or another size than w x h.
// channels: 3 is BGR, 4 is RGBA, opaque. by: 1, 2, 4 or 8, how much smaller than the stored picture of w x h px; part of a
// pixel counts as one.
static int pt_jpeg_decode(const uint8_t *data, unsigned long len, uint8_t *dst, int w, int h, int channels, int by, long *stray, char *msg) {
	struct jpeg_decompress_struct c;
	pt_jpeg_err err;
	memset(&c, 0, sizeof c);
	err.damaged = 0;
	err.stray = 0;
	err.msg = msg;
	c.err = jpeg_std_error(&err.mgr);
	err.mgr.error_exit = pt_jpeg_exit;
	err.mgr.emit_message = pt_jpeg_emit;
	err.mgr.output_message = pt_jpeg_silent;
	if (setjmp(err.back)) {
		jpeg_destroy_decompress(&c);
		return 1;
	}
	jpeg_create_decompress(&c);
	jpeg_mem_src(&c, data, len);
	jpeg_read_header(&c, TRUE);
	c.out_color_space = channels == 3 ? JCS_EXT_BGR : JCS_EXT_RGBA;
	if ((int)c.image_width != w || (int)c.image_height != h) {
		strcpy(msg, "the size is not the header's");
		jpeg_destroy_decompress(&c);
		return 1;
	}
	c.scale_num = 1;
	c.scale_denom = by;
	jpeg_start_decompress(&c);
	while (c.output_scanline < c.output_height && err.damaged == 0) {
		JSAMPROW rows[8];
		JDIMENSION n = c.output_height - c.output_scanline;
		if (n > 8) n = 8;
		for (JDIMENSION i = 0; i < n; i++) rows[i] = dst + (size_t)channels * c.output_width * (c.output_scanline + i);
		jpeg_read_scanlines(&c, rows, n);
	}
	if (err.damaged == 0) jpeg_finish_decompress(&c);
	jpeg_destroy_decompress(&c);
	*stray = err.stray;
	return err.damaged != 0;
}
*/
import "C"

import (
	"fmt"
	"unsafe"

	"phototrack/internal/raster"
)

// JPEG decodes a grey or colour JPEG into dst, whose size must be the stored picture's; orientation and profile are left
// to the caller. Data that are damaged or end early are an error, where the library itself would warn and go on. Stray is
// how many bytes stood between the parts of the file without belonging to any: a few are padding, many are a part of the
// picture that could not be made out.
func JPEG(data []byte, dst raster.BGR) (stray int, err error) {
	if err := room(data, dst); err != nil {
		return 0, err
	}
	return decodeJPEG(data, interleaved{pix: dst.Pix, w: dst.W, h: dst.H, channels: 3}, 1)
}

// interleaved is a picture of w x h px as libjpeg takes and gives it: pixels of 3 (BGR) or 4 (RGBA) bytes, stride bytes from row to row.
type interleaved struct {
	pix                    []uint8
	w, h, channels, stride int
}

// decodeJPEG decodes a picture of dst's w x h px, made smaller by 1, 2, 4 or 8, into its bytes, without gaps between rows; there must be
// room for them.
func decodeJPEG(data []uint8, dst interleaved, by int) (stray int, err error) {
	var msg [C.JMSG_LENGTH_MAX]C.char
	var n C.long
	if C.pt_jpeg_decode((*C.uint8_t)(unsafe.Pointer(&data[0])), C.ulong(len(data)),
		(*C.uint8_t)(unsafe.Pointer(&dst.pix[0])), C.int(dst.w), C.int(dst.h), C.int(dst.channels), C.int(by), &n, &msg[0]) != 0 {
		return 0, fmt.Errorf("%w: %s", ErrDecode, C.GoString(&msg[0]))
	}
	return int(n), nil
}
