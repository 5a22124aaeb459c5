// Built as ISO C, so that no product is fused with a sum: the numbers are those of the same lines in Go.
#include "sample.h"

#include <string.h>

typedef float four __attribute__((vector_size(16)));

static inline four all(float x) { return (four){x, x, x, x}; }

typedef uint8_t bytes __attribute__((vector_size(4)));
typedef int32_t whole __attribute__((vector_size(16)));

static inline four converted(const uint8_t *p) {
	bytes v;
	memcpy(&v, p, sizeof v);
	return __builtin_convertvector(__builtin_convertvector(v, whole), four);
}

// A pixel and the one to its right. What stands in the fourth place is of no use; no byte is read outside the two.
static inline void pixels(const uint8_t *p, four *left, four *right) {
	*left = converted(p);
	four r = converted(p + 2);
	*right = (four){r[1], r[2], r[3], r[0]};
}

static inline four load(const float *p) {
	four v;
	memcpy(&v, p, sizeof v);
	return v;
}

static inline int clamped(double x, int top) {
	int i = (int)x;
	return i < 0 ? 0 : i > top ? top : i;
}

static inline four between(const uint8_t *pix, int w, int h, double u, double v) {
	int x = clamped(u, w - 2), y = clamped(v, h - 2);
	four fx = all((float)(u - x)), fy = all((float)(v - y));
	const uint8_t *p = pix + 3 * ((size_t)y * w + x), *q = p + 3 * (size_t)w;
	four a, b, c, e;
	pixels(p, &a, &c);
	pixels(q, &b, &e);
	a = a + fx * (c - a);
	b = b + fx * (e - b);
	return a + fy * (b - a);
}

void pt_root_bilinear(const uint8_t *pix, int w, int h, const double *uv, size_t n, double d, float *out) {
	for (size_t k = 0; k < n; k++, out += 4) {
		double u = uv[2 * k], v = uv[2 * k + 1];
		four a = between(pix, w, h, u - d, v - d);
		if (d != 0)
			a = (a + between(pix, w, h, u + d, v + d)) * all(0.5f);
		memcpy(out, &a, sizeof a);
	}
}

void pt_root_grey(const uint8_t *pix, int w, int h, const double *uv, size_t n, float *out) {
	for (size_t k = 0; k < n; k++) {
		double u = uv[2 * k], v = uv[2 * k + 1];
		four a = between(pix, w, h, u, v) + between(pix, w, h, u + 1, v + 1);
		out[k] = 0.5f * (0.25f * a[0] + 0.5f * a[1] + 0.25f * a[2]);
	}
}

void pt_root_lab(const float *cube, int side, float per_value, const float *bgr, size_t n, float *out) {
	const size_t row = 4 * (size_t)side, page = row * side;
	for (size_t k = 0; k < n; k++, bgr += 4, out += 4) {
		float b = bgr[0] * per_value, g = bgr[1] * per_value, r = bgr[2] * per_value;
		int ib = (int)b, ig = (int)g, ir = (int)r;
		ib = ib < side - 2 ? ib : side - 2;
		ig = ig < side - 2 ? ig : side - 2;
		ir = ir < side - 2 ? ir : side - 2;
		four fb = all(b - ib), fg = all(g - ig), fr = all(r - ir);
		const float *c = cube + page * ib + row * ig + 4 * (size_t)ir;
		// Along red on the four edges of the cell, then along green, then along blue.
		four e0 = load(c), e1 = load(c + row), e2 = load(c + page), e3 = load(c + page + row);
		e0 = e0 + fr * (load(c + 4) - e0);
		e1 = e1 + fr * (load(c + row + 4) - e1);
		e2 = e2 + fr * (load(c + page + 4) - e2);
		e3 = e3 + fr * (load(c + page + row + 4) - e3);
		e0 = e0 + fg * (e1 - e0);
		e2 = e2 + fg * (e3 - e2);
		e0 = e0 + fb * (e2 - e0);
		memcpy(out, &e0, sizeof e0);
	}
}
