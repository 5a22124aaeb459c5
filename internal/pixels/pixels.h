#pragma once
#include <stdint.h>

enum { FINE = 64, MOST = 8 }; // one level; steps to each side

// What light is taken out of a picture: a plane of its logarithm over the card, see package plate.
typedef struct {
	int even;           // not 0: the light falls evenly, nothing to take out
	double mm[9];       // px of the picture -> mm of the card
	double across, down; // size of the card, mm
	double u, v;        // slope of the plane, per hundred mm
} pt_light;

int pt_even(const uint8_t *src, int src_stride, uint8_t *dst, int dst_stride, int w, int h, int steps, int luma, int colour,
	const pt_light *light);

int pt_rectify(const uint8_t *src, int src_stride, int sw, int sh, uint8_t *dst, int dst_stride, int w, int h,
	const double *px, double x0, double y0, double pitch, const uint8_t *outside);

int pt_reduce(const uint8_t *src, int src_stride, int sw, int sh, uint8_t *dst, int dst_stride, int w, int h,
	const float *wx, const int *fromx, const int *nx, int mostx, const float *wy, const int *fromy, const int *ny, int mosty);


int pt_png(const uint8_t *rgba, int stride, int w, int h, uint8_t *out);
