// A decoder of HEVC for libheif, on libde265, that is strict with damaged data. The data of a slice are one arithmetic code
// (ITU-T H.265, 9.3): from a flipped bit on, all is decoded otherwise. After each coding tree unit the code says whether the
// slice ends, so that such a slice ends too early, leaving units that nobody has written, or not where the picture does, of
// which libde265 warns. libheif passes over both.
//
// To see what nobody has written, a picture is decoded into memory full of noise. libde265 does that only where it applies no
// sample adaptive offset at the end; where it would, the data are decoded a second time without it.
#include "hevc.h"

#include <libde265/de265.h>
#include <libheif/heif.h>
#include <libheif/heif_plugin.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum {
  blockPX = 8,      // the smallest unit in which pictures are coded
  missingBlocks = 4 // in the smallest coding tree unit, 16 by 16
};

typedef struct {
  de265_decoder_context *ctx;
  // The brightness of the picture that was begun last, as it was allocated: bytes in all, in a row and of a pixel, and which
  // pixel is the first that is shown.
  size_t all, row, wide, left, top;
  uint8_t *data; // what was pushed
  size_t size;
} decoder;

static const struct heif_error fine = {heif_error_Ok, heif_suberror_Unspecified, "Success"};

static struct heif_error damaged(const char *what) {
  struct heif_error e = {heif_error_Decoder_plugin_error, heif_suberror_Unspecified, what};
  return e;
}

// Noise that no picture holds by chance, the same on every run.
static void fill(uint8_t *p, size_t n) {
  uint32_t x = 2463534242u; // Marsaglia's xorshift
  for (size_t i = 0; i < n; i++) {
    x ^= x << 13; x ^= x >> 17; x ^= x << 5;
    p[i] = x >> 24;
  }
}

static int get_buffer(de265_decoder_context *ctx, struct de265_image_spec *spec, struct de265_image *img, void *own) {
  decoder *d = own;
  (void)ctx;
  int chroma = de265_get_chroma_format(img), align = spec->alignment < 16 ? 16 : spec->alignment;
  for (int c = 0; c < 3; c++) de265_set_image_plane(img, c, NULL, 0, NULL);
  for (int c = 0; c < (chroma == de265_chroma_mono ? 1 : 3); c++) {
    size_t w = spec->width, h = spec->height, wide = (de265_get_bits_per_pixel(img, c) + 7) / 8;
    if (c > 0 && chroma != de265_chroma_444) w /= 2;
    if (c > 0 && chroma == de265_chroma_420) h /= 2;
    size_t stride = (w + align - 1) / align * align, n = stride * h * wide + 64;
    uint8_t *raw = malloc(n + align);
    if (raw == NULL) return 0;
    uint8_t *p = raw + (align - (uintptr_t)raw % align) % align;
    if (c == 0) {
      fill(p, n);
      d->all = n; d->row = stride * wide; d->wide = wide; d->left = spec->crop_left; d->top = spec->crop_top;
    }
    de265_set_image_plane(img, c, p, (int)(stride * wide), raw);
  }
  return 1;
}

static void release_buffer(de265_decoder_context *ctx, struct de265_image *img, void *own) {
  (void)ctx; (void)own;
  for (int c = 0; c < 3; c++) {
    free(de265_get_image_plane_user_data(img, c));
    de265_set_image_plane(img, c, NULL, 0, NULL);
  }
}

// The first shown pixel that is the fourth of a block, where so many are cut off.
static size_t first(size_t cut) { return (3 + blockPX - cut % blockPX) % blockPX; }

// Whether blocks of the picture still hold the noise. The filters at the edges of blocks reach three pixels far. (The decoder
// may have copied the picture elsewhere by now, so only what is shown can be looked at.)
static int undecoded(const decoder *d, const struct de265_image *img) {
  uint8_t *noise = malloc(d->all);
  if (noise == NULL) return 1;
  fill(noise, d->all);
  int stride, found = 0;
  const uint8_t *p = de265_get_image_plane(img, 0, &stride);
  size_t w = de265_get_image_width(img, 0), h = de265_get_image_height(img, 0);
  for (size_t y = first(d->top); y + 1 < h; y += blockPX) {
    for (size_t x = first(d->left); x + 1 < w; x += blockPX) {
      const uint8_t *is = p + y * stride + x * d->wide, *was = noise + (y + d->top) * d->row + (x + d->left) * d->wide;
      found += memcmp(is, was, 2 * d->wide) == 0 && memcmp(is + stride, was + d->row, 2 * d->wide) == 0;
    }
  }
  free(noise);
  return found >= missingBlocks;
}

// Copies a decoded picture into one of libheif's.
static struct heif_error hand_over(const struct de265_image *in, struct heif_image **out) {
  int chroma = de265_get_chroma_format(in), bits = de265_get_bits_per_pixel(in, 0), planes = chroma == de265_chroma_mono ? 1 : 3;
  static const enum heif_channel channels[3] = {heif_channel_Y, heif_channel_Cb, heif_channel_Cr};
  static const enum heif_chroma kinds[4] = {heif_chroma_monochrome, heif_chroma_420, heif_chroma_422, heif_chroma_444};
  struct heif_error e = heif_image_create(de265_get_image_width(in, 0), de265_get_image_height(in, 0),
    planes == 1 ? heif_colorspace_monochrome : heif_colorspace_YCbCr, kinds[chroma], out);
  for (int c = 0; c < planes && e.code == heif_error_Ok; c++) {
    int from, to, w = de265_get_image_width(in, c), h = de265_get_image_height(in, c);
    if (de265_get_bits_per_pixel(in, c) != bits) return damaged("brightness and colour have different depths");
    if (w <= 0 || h <= 0) return damaged("the picture has no size");
    e = heif_image_add_plane(*out, channels[c], w, h, bits);
    if (e.code != heif_error_Ok) break;
    const uint8_t *s = de265_get_image_plane(in, c, &from);
    uint8_t *d = heif_image_get_plane(*out, channels[c], &to);
    for (int y = 0; y < h; y++) memcpy(d + (size_t)y * to, s + (size_t)y * from, (size_t)w * ((bits + 7) / 8));
  }
  if (e.code != heif_error_Ok) return e;
  struct heif_color_profile_nclx *n = heif_nclx_color_profile_alloc();
  if (n == NULL) return damaged("no memory");
  // A number that the library does not know leaves what stands there: unspecified.
  (void)heif_nclx_color_profile_set_color_primaries(n, de265_get_image_colour_primaries(in));
  (void)heif_nclx_color_profile_set_transfer_characteristics(n, de265_get_image_transfer_characteristics(in));
  (void)heif_nclx_color_profile_set_matrix_coefficients(n, de265_get_image_matrix_coefficients(in));
  n->full_range_flag = de265_get_image_full_range_flag(in) != 0;
  e = heif_image_set_nclx_color_profile(*out, n);
  heif_nclx_color_profile_free(n);
  return e;
}

// Whether a warning says that the picture's data are not what an encoder writes, not that the machine or a remark beside
// the picture is at fault.
static int of_damage(de265_error e) {
  return e > DE265_WARNING_WARNING_BUFFER_FULL && e != DE265_WARNING_NUMBER_OF_THREADS_LIMITED_TO_MAXIMUM &&
    e != DE265_WARNING_SPS_MISSING_CANNOT_DECODE_SEI;
}

static const char *plugin_name(void) { return "libde265, strict"; }
static int supports(enum heif_compression_format f) { return f == heif_compression_HEVC ? 200 : 0; } // libheif's own says 100

// Makes libde265's part anew.
static int begin(decoder *d) {
  struct de265_image_allocation a = {get_buffer, release_buffer};
  d->all = 0;
  if ((d->ctx = de265_new_decoder()) == NULL) return 1;
  de265_set_image_allocation_functions(d->ctx, &a, d);
  de265_set_parameter_bool(d->ctx, DE265_DECODER_PARAM_SUPPRESS_FAULTY_PICTURES, 1);
  de265_set_parameter_bool(d->ctx, DE265_DECODER_PARAM_BOOL_SEI_CHECK_HASH, 1);
  return 0;
}

static struct heif_error new_decoder(void **out) {
  decoder *d = calloc(1, sizeof *d);
  if (d == NULL || begin(d)) {
    free(d);
    return damaged("no memory");
  }
  *out = d;
  return fine;
}

static void free_decoder(void *own) {
  decoder *d = own;
  if (d->ctx != NULL) de265_free_decoder(d->ctx);
  free(d->data);
  free(d);
}

static struct heif_error push_data(void *own, const void *data, size_t size) {
  decoder *d = own;
  uint8_t *all = realloc(d->data, d->size + size + 1);
  if (all == NULL) return damaged("no memory");
  memcpy(all + d->size, data, size);
  d->data = all;
  d->size += size;
  return fine;
}

// Hands units to the decoder that stand with their length in four bytes before them (ISO/IEC 14496-15).
static struct heif_error push_units(decoder *d) {
  const uint8_t *p = d->data, *end = p + d->size;
  while (p < end) {
    if (end - p < 4) return damaged("the picture data are cut short");
    size_t n = (size_t)p[0] << 24 | (size_t)p[1] << 16 | (size_t)p[2] << 8 | p[3];
    p += 4;
    if (n > (size_t)(end - p)) return damaged("the picture data are cut short");
    if (de265_push_NAL(d->ctx, p, (int)n, 0, NULL) != DE265_OK) return damaged("the picture data are damaged");
    p += n;
  }
  de265_flush_data(d->ctx);
  return fine;
}

// Decodes all, gives the last picture where out is not NULL, and says whether it was decoded into our memory and so was seen
// to be whole.
static struct heif_error decode_all(decoder *d, struct heif_image **out, int *whole) {
  struct heif_error e = push_units(d);
  int pictures = 0;
  for (int more = d->size > 0; more && e.code == heif_error_Ok;) {
    de265_error said = de265_decode(d->ctx, &more);
    if (said == DE265_ERROR_WAITING_FOR_INPUT_DATA) more = 0;
    else if (said != DE265_OK) e = damaged("the picture data are damaged");
    const struct de265_image *img = e.code == heif_error_Ok ? de265_get_next_picture(d->ctx) : NULL;
    if (img == NULL) continue;
    pictures++;
    *whole = d->all > 0;
    if (*whole && undecoded(d, img)) e = damaged("a part of the picture is missing");
    else if (out != NULL) {
      if (*out != NULL) heif_image_release(*out);
      *out = NULL;
      e = hand_over(img, out);
    }
    de265_release_next_picture(d->ctx);
  }
  for (de265_error w; (w = de265_get_warning(d->ctx)) != DE265_OK;) {
    if (of_damage(w) && e.code == heif_error_Ok) e = damaged("the picture data are damaged");
  }
  if (pictures == 0 && e.code == heif_error_Ok) e = damaged("no picture could be decoded");
  return e;
}

static struct heif_error decode_image(void *own, struct heif_image **out) {
  decoder *d = own;
  int whole = 0;
  *out = NULL;
  struct heif_error e = decode_all(d, out, &whole);
  if (e.code == heif_error_Ok && !whole) {
    de265_free_decoder(d->ctx);
    if (begin(d)) {
      e = damaged("no memory");
    } else {
      de265_set_parameter_bool(d->ctx, DE265_DECODER_PARAM_DISABLE_SAO, 1);
      de265_set_parameter_bool(d->ctx, DE265_DECODER_PARAM_DISABLE_DEBLOCKING, 1);
      e = decode_all(d, NULL, &whole);
      if (e.code == heif_error_Ok && !whole) e = damaged("whether the picture is whole cannot be seen");
    }
  }
  if (e.code != heif_error_Ok && *out != NULL) {
    heif_image_release(*out);
    *out = NULL;
  }
  return e;
}

int pt_hevc_register(void) {
  static const struct heif_decoder_plugin ours = {
    .plugin_api_version = 1,
    .get_plugin_name = plugin_name,
    .does_support_format = supports,
    .new_decoder = new_decoder,
    .free_decoder = free_decoder,
    .push_data = push_data,
    .decode_image = decode_image,
  };
  return heif_register_decoder_plugin(&ours).code != heif_error_Ok;
}
