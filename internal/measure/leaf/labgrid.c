// Built as ISO C, so that no product is fused with a sum: the numbers are those of the same lines in Go. No root is asked of
// a negative number, so nobody has to be told of one.
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("no-math-errno", "no-trapping-math")
#endif

#include "labgrid.h"

#include <math.h>

// So many pixels at a time: what is worked out on the way stays in the nearest cache.
enum { BLOCK = 64 };

// Where in the table of cube roots a value lies. Loops without a branch, so that they become vector code.
static void roots(const float *restrict v, const float *restrict table, float scale, float steps, float *restrict out) {
	float part[BLOCK], lo[BLOCK], hi[BLOCK];
	int32_t at[BLOCK];
	for (int i = 0; i < BLOCK; i++) {
		float x = v[i] * scale;
		x = x > 0 ? x : 0;
		x = x < steps ? x : steps;
		at[i] = (int32_t)x;
		part[i] = x - (float)at[i];
	}
	for (int i = 0; i < BLOCK; i++) {
		lo[i] = table[at[i]];
		hi[i] = table[at[i] + 1];
	}
	for (int i = 0; i < BLOCK; i++) out[i] = lo[i] + part[i] * (hi[i] - lo[i]);
}

static void mixed(float *restrict r, float *restrict g, float *restrict b, const float *restrict m) {
	for (int i = 0; i < BLOCK; i++) {
		float x = r[i], y = g[i], z = b[i];
		r[i] = m[0] * x + m[1] * y + m[2] * z;
		g[i] = m[6] * x + m[7] * y + m[8] * z;
		b[i] = m[12] * x + m[13] * y + m[14] * z;
	}
}

static void root_of_product(const float *restrict x, const float *restrict y, float *restrict out) {
	for (int i = 0; i < BLOCK; i++) {
		float v = x[i] * y[i];
		out[i] = v > 0 ? v : 0;
	}
	for (int i = 0; i < BLOCK; i++) out[i] = sqrtf(out[i]);
}

static void mixed_with_roots(float *restrict r, float *restrict g, float *restrict b, const float *restrict m) {
	float p[BLOCK], q[BLOCK], s[BLOCK];
	root_of_product(r, g, p);
	root_of_product(g, b, q);
	root_of_product(b, r, s);
	for (int i = 0; i < BLOCK; i++) {
		float x = r[i], y = g[i], z = b[i];
		r[i] = m[0] * x + m[1] * y + m[2] * z + (m[3] * p[i] + m[4] * q[i] + m[5] * s[i]);
		g[i] = m[6] * x + m[7] * y + m[8] * z + (m[9] * p[i] + m[10] * q[i] + m[11] * s[i]);
		b[i] = m[12] * x + m[13] * y + m[14] * z + (m[15] * p[i] + m[16] * q[i] + m[17] * s[i]);
	}
}

void pt_leaf_lab(const uint8_t *pix, size_t n, const float *tone, const float *mix, int root, const float *table, float steps, float top,
                 float *L, float *A, float *B) {
	float r[BLOCK], g[BLOCK], b[BLOCK], x[BLOCK], y[BLOCK], z[BLOCK], fx[BLOCK], fy[BLOCK], fz[BLOCK];
	const float scale = (float)((double)steps / (double)top);
	for (size_t from = 0; from < n; from += BLOCK) {
		int some = n - from < BLOCK ? (int)(n - from) : BLOCK;
		const uint8_t *p = pix + 3 * from;
		for (int i = 0; i < some; i++, p += 3) {
			r[i] = tone[p[2]];
			g[i] = tone[256 + p[1]];
			b[i] = tone[512 + p[0]];
		}
		for (int i = some; i < BLOCK; i++) r[i] = g[i] = b[i] = 0;
		if (root)
			mixed_with_roots(r, g, b, mix);
		else
			mixed(r, g, b, mix);
		for (int i = 0; i < BLOCK; i++) { // the matrix and the white of package colour
			x[i] = (0.412453f * r[i] + 0.357580f * g[i] + 0.180423f * b[i]) * (float)(1 / 0.95047);
			y[i] = 0.212671f * r[i] + 0.715160f * g[i] + 0.072169f * b[i];
			z[i] = (0.019334f * r[i] + 0.119193f * g[i] + 0.950227f * b[i]) * (float)(1 / 1.08883);
		}
		roots(x, table, scale, steps, fx);
		roots(y, table, scale, steps, fy);
		roots(z, table, scale, steps, fz);
		for (int i = 0; i < some; i++) {
			L[from + i] = 116 * fy[i] - 16;
			A[from + i] = 500 * (fx[i] - fy[i]);
			B[from + i] = 200 * (fy[i] - fz[i]);
		}
	}
}
