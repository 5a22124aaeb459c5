#include "pixels.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>



typedef float v4 __attribute__((vector_size(16)));
typedef uint8_t b4 __attribute__((vector_size(4)));
typedef int32_t i4 __attribute__((vector_size(16)));

static inline void put(uint8_t *p, v4 v) {
	b4 out = __builtin_convertvector(__builtin_convertvector(v, i4), b4);
	memcpy(p, &out, sizeof out);
}

// What is needed of the source for a row of pixels: where it lies, the four pixels about that place, and its distance from the
// first of them.
typedef struct {
	double *x, *y;
	uint32_t *p00, *p10, *p01, *p11;
	float *fx, *fy;
} around;

// Fills p00 to fy from x and y: the colour outside where the source ends.
static void gather(const uint8_t *src, int stride, int sw, int sh, int w, around a, uint32_t outside) {
	for (int i = 0; i < w; i++) {
		const double x = a.x[i], y = a.y[i];
		if (!(x > -0.5 && y > -0.5 && x < sw - 0.5 && y < sh - 0.5)) {
			a.p00[i] = a.p10[i] = a.p01[i] = a.p11[i] = outside;
			a.fx[i] = a.fy[i] = 0;
			continue;
		}
		int u = (int)(x + 1) - 1, v = (int)(y + 1) - 1; // the floor
		a.fx[i] = (float)(x - u);
		a.fy[i] = (float)(y - v);
		const int u1 = u + 1 < sw ? u + 1 : u, v1 = v + 1 < sh ? v + 1 : v;
		if (u < 0) u = 0;
		if (v < 0) v = 0;
		const uint8_t *top = src + (size_t)v * stride, *low = src + (size_t)v1 * stride;
		memcpy(a.p00 + i, top + 4 * u, 4);
		memcpy(a.p10 + i, top + 4 * u1, 4);
		memcpy(a.p01 + i, low + 4 * u, 4);
		memcpy(a.p11 + i, low + 4 * u1, 4);
	}
}

static inline uint32_t mixed(uint32_t p00, uint32_t p10, uint32_t p01, uint32_t p11, float fx, float fy, int shift) {
	const float top = (float)(int)(p00 >> shift & 255) * (1 - fx) + (float)(int)(p10 >> shift & 255) * fx;
	const float low = (float)(int)(p01 >> shift & 255) * (1 - fx) + (float)(int)(p11 >> shift & 255) * fx;
	return (uint32_t)(int)(top * (1 - fy) + low * fy + 0.5f) << shift;
}

// All four channels alike, so that their order does not matter.
static void mix(const uint32_t *restrict p00, const uint32_t *restrict p10, const uint32_t *restrict p01, const uint32_t *restrict p11,
	const float *restrict fx, const float *restrict fy, int w, uint32_t *restrict dst) {
	for (int i = 0; i < w; i++)
		dst[i] = mixed(p00[i], p10[i], p01[i], p11[i], fx[i], fy[i], 0) | mixed(p00[i], p10[i], p01[i], p11[i], fx[i], fy[i], 8) |
			mixed(p00[i], p10[i], p01[i], p11[i], fx[i], fy[i], 16) | mixed(p00[i], p10[i], p01[i], p11[i], fx[i], fy[i], 24);
}

// A picture of w x h px whose pixel (x, y) is the source's at the homography m of (x0 + x pitch, y0 + y pitch), bilinear between
// pixel centres; the colour outside where the source ends. 0: done; 1: no memory.
int pt_rectify(const uint8_t *src, int src_stride, int sw, int sh, uint8_t *dst, int dst_stride, int w, int h,
	const double *m, double x0, double y0, double pitch, const uint8_t *outside) {
	around a;
	a.x = malloc((size_t)w * (2 * sizeof(double) + 4 * sizeof(uint32_t) + 2 * sizeof(float)));
	if (!a.x) return 1;
	a.y = a.x + w;
	a.p00 = (uint32_t *)(a.y + w);
	a.p10 = a.p00 + w;
	a.p01 = a.p10 + w;
	a.p11 = a.p01 + w;
	a.fx = (float *)(a.p11 + w);
	a.fy = a.fx + w;
	uint32_t ground;
	memcpy(&ground, outside, 4);
	for (int j = 0; j < h; j++) {
		const double y = y0 + j * pitch;
		const double b = m[1] * y + m[2], c = m[4] * y + m[5], d = m[7] * y + m[8];
		for (int i = 0; i < w; i++) {
			const double x = x0 + i * pitch, z = 1 / (m[6] * x + d);
			a.x[i] = (m[0] * x + b) * z;
			a.y[i] = (m[3] * x + c) * z;
		}
		gather(src, src_stride, sw, sh, w, a, ground);
		mix(a.p00, a.p10, a.p01, a.p11, a.fx, a.fy, w, (uint32_t *)(dst + (size_t)j * dst_stride));
	}
	free(a.x);
	return 0;
}

static inline v4 within(v4 v) {
	const v4 zero = {0}, most = zero + 255.0f;
	v = v + 0.5f;
	v = (v4)((i4)v & (v > zero));
	i4 over = v > most;
	return (v4)(((i4)most & over) | ((i4)v & ~over));
}

// A picture reduced by weighted means along rows and then along columns; the weights of pixel i stand from i times most.
// 0: done; 1: no memory.
int pt_reduce(const uint8_t *src, int src_stride, int sw, int sh, uint8_t *dst, int dst_stride, int w, int h,
	const float *wx, const int *fromx, const int *nx, int mostx, const float *wy, const int *fromy, const int *ny, int mosty) {
	uint8_t *narrow = malloc((size_t)4 * w * sh);
	float *row = malloc((size_t)4 * (sw > w ? sw : w) * sizeof *row);
	if (!narrow || !row) {
		free(narrow);
		free(row);
		return 1;
	}
	for (int y = 0; y < sh; y++) {
		const uint8_t *p = src + (size_t)y * src_stride;
		for (int x = 0; x < 4 * sw; x++) row[x] = p[x];
		for (int x = 0; x < w; x++) {
			v4 sum = {0};
			const float *k = wx + (size_t)x * mostx, *q = row + 4 * fromx[x];
			for (int t = 0; t < nx[x]; t++) {
				v4 v;
				memcpy(&v, q + 4 * t, sizeof v);
				sum += v * k[t];
			}
			put(narrow + 4 * ((size_t)y * w + x), within(sum));
		}
	}
	for (int y = 0; y < h; y++) {
		memset(row, 0, (size_t)4 * w * sizeof *row);
		for (int t = 0; t < ny[y]; t++) {
			const uint8_t *p = narrow + (size_t)4 * w * (fromy[y] + t);
			const float k = wy[(size_t)y * mosty + t];
			for (int x = 0; x < 4 * w; x++) row[x] += k * p[x];
		}
		uint8_t *to = dst + (size_t)y * dst_stride;
		for (int x = 0; x < 4 * w; x += 4) {
			v4 v;
			memcpy(&v, row + x, sizeof v);
			put(to + x, within(v));
		}
	}
	free(narrow);
	free(row);
	return 0;
}
