#ifndef PHOTOTRACK_ROOT_SAMPLE_H
#define PHOTOTRACK_ROOT_SAMPLE_H
#include <stddef.h>
#include <stdint.h>

// The colours of a photo of w x h px at n places uv (x and y by turns), between its four pixels, or, where d is not 0, the mean of
// those moved by (-d, -d) and by (d, d): blue, green, red and one number of no use, for each place four in out.
void pt_root_bilinear(const uint8_t *pix, int w, int h, const double *uv, size_t n, double d, float *out);

// A quarter of blue and of red and half of green at such places, the mean of the place and the one moved by (1, 1).
void pt_root_grey(const uint8_t *pix, int w, int h, const double *uv, size_t n, float *out);

// CIELAB of n such colours by a table of side x side x side nodes (blue, green, red, red fastest), four numbers each, one node every
// 1/per_value: L, a, b and one number of no use in out, which may be bgr itself.
void pt_root_lab(const float *cube, int side, float per_value, const float *bgr, size_t n, float *out);
#endif
