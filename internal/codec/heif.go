package codec

/*
#cgo pkg-config: libheif
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <libheif/heif.h>

typedef struct {
	int w, h, bits, alpha;
	int nclx[3];        // known, primaries, transfer
	uint8_t *icc; size_t iccLen;
	uint8_t *exif; size_t exifLen;
	char msg[200];
} pt_heif_info;

static int pt_heif_fail(char *msg, struct heif_error e) {
	strncpy(msg, e.message ? e.message : "unknown error", 199);
	msg[199] = 0;
	return 1;
}

static int pt_heif_open(const uint8_t *data, size_t len, struct heif_context **c, struct heif_image_handle **hd, char *msg) {
	*hd = NULL;
	*c = heif_context_alloc();
	if (*c == NULL) { strcpy(msg, "no memory"); return 1; }
	heif_context_set_max_decoding_threads(*c, 0);
	struct heif_error e = heif_context_read_from_memory_without_copy(*c, data, len, NULL);
	if (e.code == heif_error_Ok) e = heif_context_get_primary_image_handle(*c, hd);
	if (e.code == heif_error_Ok) return 0;
	pt_heif_fail(msg, e);
	heif_context_free(*c);
	return 1;
}

static void pt_heif_profile(struct heif_image_handle *hd, pt_heif_info *o, size_t maxBlock) {
	struct heif_color_profile_nclx *n = NULL;
	size_t len = heif_image_handle_get_raw_color_profile_size(hd);
	if (len > 0 && len <= maxBlock && (o->icc = malloc(len)) != NULL) {
		if (heif_image_handle_get_raw_color_profile(hd, o->icc).code == heif_error_Ok) o->iccLen = len;
	}
	struct heif_error e = heif_image_handle_get_nclx_color_profile(hd, &n);
	if (e.code != heif_error_Ok || n == NULL) return;
	o->nclx[0] = 1;
	o->nclx[1] = n->color_primaries;
	o->nclx[2] = n->transfer_characteristics;
	heif_nclx_color_profile_free(n);
}

static void pt_heif_exif(struct heif_image_handle *hd, pt_heif_info *o, size_t maxBlock) {
	heif_item_id id;
	if (heif_image_handle_get_list_of_metadata_block_IDs(hd, "Exif", &id, 1) != 1) return;
	size_t len = heif_image_handle_get_metadata_size(hd, id);
	if (len == 0 || len > maxBlock || (o->exif = malloc(len)) == NULL) return;
	if (heif_image_handle_get_metadata(hd, id, o->exif).code == heif_error_Ok) o->exifLen = len;
}

static int pt_heif_read_info(const uint8_t *data, size_t len, size_t maxBlock, pt_heif_info *o) {
	struct heif_context *c;
	struct heif_image_handle *hd;
	memset(o, 0, sizeof *o);
	if (pt_heif_open(data, len, &c, &hd, o->msg)) return 1;
	o->w = heif_image_handle_get_width(hd);
	o->h = heif_image_handle_get_height(hd);
	o->bits = heif_image_handle_get_luma_bits_per_pixel(hd);
	o->alpha = heif_image_handle_has_alpha_channel(hd);
	pt_heif_profile(hd, o, maxBlock);
	pt_heif_exif(hd, o, maxBlock);
	heif_image_handle_release(hd);
	heif_context_free(c);
	return 0;
}

// Copies interleaved red, green, blue (and opacity, laid over white) rows to blue, green, red.
static int pt_heif_copy(const struct heif_image *img, uint8_t *dst, int w, int h, int alpha, char *msg) {
	int stride = 0, step = alpha ? 4 : 3;
	const uint8_t *p = heif_image_get_plane_readonly(img, heif_channel_interleaved, &stride);
	if (p == NULL || heif_image_get_width(img, heif_channel_interleaved) != w ||
	    heif_image_get_height(img, heif_channel_interleaved) != h || stride < step * w) {
		strcpy(msg, "the size is not the header's");
		return 1;
	}
	for (int y = 0; y < h; y++) {
		const uint8_t *s = p + (size_t)y * stride;
		uint8_t *d = dst + (size_t)3 * w * y;
		if (!alpha) {
			for (int x = 0; x < w; x++, s += 3, d += 3) { d[0] = s[2]; d[1] = s[1]; d[2] = s[0]; }
			continue;
		}
		for (int x = 0; x < w; x++, s += 4, d += 3) {
			unsigned a = s[3], white = 255 * (255 - a) + 127;
			d[0] = (s[2] * a + white) / 255; d[1] = (s[1] * a + white) / 255; d[2] = (s[0] * a + white) / 255;
		}
	}
	return 0;
}

static int pt_heif_decode(const uint8_t *data, size_t len, uint8_t *dst, int w, int h, char *msg) {
	struct heif_context *c;
	struct heif_image_handle *hd;
	struct heif_image *img = NULL;
	if (pt_heif_open(data, len, &c, &hd, msg)) return 1;
	int alpha = heif_image_handle_has_alpha_channel(hd), bad = 1;
	struct heif_decoding_options *o = heif_decoding_options_alloc();
	if (o == NULL) {
		strcpy(msg, "no memory");
	} else {
		o->convert_hdr_to_8bit = 1;
		struct heif_error e = heif_decode_image(hd, &img, heif_colorspace_RGB,
			alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB, o);
		bad = e.code == heif_error_Ok ? pt_heif_copy(img, dst, w, h, alpha, msg) : pt_heif_fail(msg, e);
		heif_decoding_options_free(o);
	}
	if (img != NULL) heif_image_release(img);
	heif_image_handle_release(hd);
	heif_context_free(c);
	return bad;
}
*/
import "C"

import (
	"fmt"
	"strings"
	"unsafe"

	"phototrack/internal/raster"
)

// CodePoints says by numbers of ITU-T H.273 what a picture's colours are: 1 and 12 are the primaries of sRGB and Display P3,
// 13 is sRGB's tone curve.
type CodePoints struct {
	Known               bool
	Primaries, Transfer int
}

// HEIFInfo is what a HEIF file's boxes say of its main picture.
type HEIFInfo struct {
	W, H  int // as displayed: the library applies the file's rotation and mirroring
	Bits  int // per channel
	Alpha bool
	ICC   []byte // embedded profile, nil where there is none
	EXIF  []byte // the "Exif" block as stored: four bytes of offset, then the data; nil where there is none
	CodePoints
}

// maxHEIFBlock bounds one profile or EXIF block, bytes.
const maxHEIFBlock = 4 << 20

// ReadHEIFInfo reads the boxes of a HEIF file and decodes nothing. Errors: ErrDecode.
func ReadHEIFInfo(data []byte) (HEIFInfo, error) {
	if len(data) == 0 {
		return HEIFInfo{}, ErrDecode
	}
	var o C.pt_heif_info
	if C.pt_heif_read_info((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)), maxHEIFBlock, &o) != 0 {
		return HEIFInfo{}, fmt.Errorf("%w: %s", ErrDecode, C.GoString(&o.msg[0]))
	}
	i := HEIFInfo{W: int(o.w), H: int(o.h), Bits: int(o.bits), Alpha: o.alpha != 0, CodePoints: CodePoints{o.nclx[0] != 0, int(o.nclx[1]), int(o.nclx[2])}}
	if o.iccLen > 0 {
		i.ICC = C.GoBytes(unsafe.Pointer(o.icc), C.int(o.iccLen))
	}
	if o.exifLen > 0 {
		i.EXIF = C.GoBytes(unsafe.Pointer(o.exif), C.int(o.exifLen))
	}
	C.free(unsafe.Pointer(o.icc))
	C.free(unsafe.Pointer(o.exif))
	return i, nil
}

// HEIF decodes the main picture into dst, whose size must be that of ReadHEIFInfo. Ten and twelve bits become eight,
// transparent parts are laid over white, rotation and mirroring are applied, the colour profile is not.
func HEIF(data []byte, dst raster.BGR) error {
	if err := room(data, dst); err != nil {
		return err
	}
	if !ownHEVC() {
		return fmt.Errorf("%w: this version of libheif takes no decoder from outside", ErrDecode)
	}
	var msg [200]C.char
	if C.pt_heif_decode((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)),
		(*C.uint8_t)(unsafe.Pointer(&dst.Pix[0])), C.int(dst.W), C.int(dst.H), &msg[0]) != 0 {
		why := C.GoString(&msg[0])
		if i := strings.LastIndex(why, ": "); i >= 0 { // libheif puts words of its own before what hevc.c says
			why = why[i+2:]
		}
		return fmt.Errorf("%w: %s", ErrDecode, why)
	}
	return nil
}
