#include "pixels.h"
#include <stdlib.h>
#include <string.h>

// Eight numbers at a time: what SSE2 and NEON hold, and what compilers without either take apart.
typedef int16_t v8 __attribute__((vector_size(16)));
typedef int32_t v8i __attribute__((vector_size(32)));
typedef float v8f __attribute__((vector_size(32)));

enum { STEP = 2, PAD = 8 + STEP * MOST, FAR = -16384 };

static inline v8 load(const int16_t *p) {
	v8 v;
	memcpy(&v, p, sizeof v);
	return v;
}

// One row as JPEG holds it (ITU-T T.871), in 1/FINE of a level. Quotients of whole numbers below 2^24 by less than 2^11 are cut
// off rightly in float.
static void split(const uint8_t *rgba, int w, int16_t *py, int16_t *pb, int16_t *pr) {
	for (int x = 0; x < w; x++) {
		int r = rgba[4 * x], g = rgba[4 * x + 1], b = rgba[4 * x + 2];
		int y = (19595 * r + 38470 * g + 7471 * b) >> 10; // 0.299, 0.587, 0.114 in 1/65536
		py[x] = (int16_t)y;
		pb[x] = (int16_t)((float)((FINE * b - y) * 1000) / 1772.0f);
		pr[x] = (int16_t)((float)((FINE * r - y) * 1000) / 1402.0f);
	}
}

// Eight pixels with the mean colour of those alike, steps to each side, pitch numbers apart. Each is alike to itself, so
// that n is never 0; the quotient is cut off rightly in float, as above.
static inline void even8(const int16_t *y, const int16_t *b, const int16_t *r, long pitch, int steps, int luma, int colour, int16_t *outb, int16_t *outr) {
	v8 py = load(y), pb = load(b), pr = load(r);
	v8 sb = {0}, sr = {0}, n = {0};
	const v8 dy = (v8){0} + (int16_t)luma, dc = (v8){0} + (int16_t)colour;
	for (int t = -steps; t <= steps; t++) {
		v8 qy = load(y + t * pitch) - py, qb = load(b + t * pitch) - pb, qr = load(r + t * pitch) - pr;
		v8 alike = (qy < dy) & (qy > -dy) & (qb < dc) & (qb > -dc) & (qr < dc) & (qr > -dc);
		sb += qb & alike;
		sr += qr & alike;
		n -= alike;
	}
	v8f many = __builtin_convertvector(n, v8f);
	v8 ob = pb + __builtin_convertvector(__builtin_convertvector(__builtin_convertvector(sb, v8f) / many, v8i), v8);
	v8 o2 = pr + __builtin_convertvector(__builtin_convertvector(__builtin_convertvector(sr, v8f) / many, v8i), v8);
	memcpy(outb, &ob, sizeof ob);
	memcpy(outr, &o2, sizeof o2);
}

// The places of a 4 x 4 square in the order that spreads them best, in sixteenths of a level (Bayer 1973).
static const float bayer[4][4] = {{0.5f, 8.5f, 2.5f, 10.5f}, {12.5f, 4.5f, 14.5f, 6.5f}, {3.5f, 11.5f, 1.5f, 9.5f}, {15.5f, 7.5f, 13.5f, 5.5f}};

// Four numbers at a time.
typedef float v4 __attribute__((vector_size(16)));
typedef int32_t i4 __attribute__((vector_size(16)));
typedef uint32_t u4 __attribute__((vector_size(16)));
typedef int16_t s4 __attribute__((vector_size(8)));

static inline v4 all(float v) { return (v4){v, v, v, v}; }
static inline v4 pick(i4 yes, v4 a, v4 b) { return (v4)((yes & (i4)a) | (~yes & (i4)b)); }
static inline v4 clamp(v4 v, float lo, float hi) { return pick(v < all(lo), all(lo), pick(v > all(hi), all(hi), v)); }

static inline v4 four(const int16_t *p) {
	s4 v;
	memcpy(&v, p, sizeof v);
	return __builtin_convertvector(__builtin_convertvector(v, i4), v4);
}

// What the light of pixels is to be multiplied with, and the 2.4th root of it: e^-s and e^(-s/2.4) to third order. s stays
// within 0.4, where this is good to 0.1 %.
typedef struct { v4 k, root; } gain;

static inline gain gain_at(const pt_light *l, v4 x, int y) {
	if (l->even) return (gain){all(1), all(1)};
	const double *m = l->mm;
	const v4 z = 1 / (x * (float)m[6] + (float)(m[7] * y + m[8]));
	const v4 u = clamp((x * (float)m[0] + (float)(m[1] * y + m[2])) * z, 0, (float)l->across) - (float)l->across / 2;
	const v4 v = clamp((x * (float)m[3] + (float)(m[4] * y + m[5])) * z, 0, (float)l->down) - (float)l->down / 2;
	const v4 s = u * (float)(l->u / 100) + v * (float)(l->v / 100), t = s / 2.4f;
	return (gain){1 - s * (1 - s / 2 * (1 - s / 3)), 1 - t * (1 - t / 2 * (1 - t / 3))};
}

// Levels, 0 to 255, of k times the light of levels v. sRGB (IEC 61966-2-1) is a straight line up to KNEE and above it the
// power 2.4 of v + LIFT, so that k comes before the power as its root. up, in sixteenths, decides between two levels.
#define KNEE (0.04045f * 255)
#define LIFT (0.055f * 255)
static inline u4 level(v4 v, gain g, v4 up) {
	v = clamp(v, 0, 255);
	v4 l = pick(v > all(KNEE), (v + LIFT) * g.root - LIFT, v * g.k);
	return (u4)__builtin_convertvector(clamp(clamp(l, 0, 255) + up, 0, 255), i4);
}

#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
#define RGBX(r, g, b) ((r) << 24 | (g) << 16 | (b) << 8 | 0xff)
#else
#define RGBX(r, g, b) ((r) | (g) << 8 | (b) << 16 | 0xff000000)
#endif

// A row of pixels in another light.
static void tone(const int16_t *py, const int16_t *pb, const int16_t *pr, int w, int y, uint8_t *dst, const pt_light *light) {
	v4 up, step = {0, 1, 2, 3};
	for (int i = 0; i < 4; i++) up[i] = bayer[y & 3][i] / 16;
	for (int x = 0; x < w; x += 4) {
		v4 l = four(py + x) / FINE, cb = four(pb + x) / FINE, cr = four(pr + x) / FINE;
		v4 r = l + 1.402f * cr, b = l + 1.772f * cb;
		v4 g = (l - 0.299f * r - 0.114f * b) * (1 / 0.587f);
		gain k = gain_at(light, step + (float)x, y);
		u4 v = RGBX(level(r, k, up), level(g, k, up), level(b, k, up));
		memcpy(dst + 4 * x, &v, 4 * (w - x < 4 ? w - x : 4));
	}
}

// A picture with its colours evened along rows and then along columns, and the light taken out. The pad on each side holds a
// brightness that is alike to none. 0: done; 1: no memory.
int pt_even(const uint8_t *src, int src_stride, uint8_t *dst, int dst_stride, int w, int h, int steps, int luma, int colour,
	const pt_light *light) {
	if (steps > MOST) steps = MOST;
	const long pitch = (w + 7) / 8 * 8, rim = STEP * steps;
	const size_t plane = (size_t)pitch * (h + 2 * rim);
	int16_t *room = malloc((3 * plane + 5 * (pitch + 2 * PAD)) * sizeof *room);
	if (!room) return 1;
	int16_t *y = room, *b = y + plane, *r = b + plane;
	int16_t *ry = r + plane + PAD, *rb = ry + pitch + 2 * PAD, *rr = rb + pitch + 2 * PAD, *ob = rr + pitch + 2 * PAD, *oc = ob + pitch + 2 * PAD;
	memset(b, 0, 2 * plane * sizeof *b);
	for (size_t i = 0; i < plane; i++) y[i] = FAR;
	for (long x = -PAD; x < pitch + PAD; x++) ry[x] = FAR, rb[x] = 0, rr[x] = 0;
	for (int i = 0; i < h; i++) {
		split(src + (size_t)i * src_stride, w, ry, rb, rr);
		const size_t at = pitch * (i + rim);
		for (long x = 0; x < pitch; x += 8) even8(ry + x, rb + x, rr + x, STEP, steps, luma, colour, b + at + x, r + at + x);
		memcpy(y + at, ry, w * sizeof *y);
	}
	for (int i = 0; i < h; i++) {
		const size_t at = pitch * (i + rim);
		for (long x = 0; x < pitch; x += 8) even8(y + at + x, b + at + x, r + at + x, STEP * pitch, steps, luma, colour, ob + x, oc + x);
		tone(y + at, ob, oc, w, i, dst + (size_t)i * dst_stride, light);
	}
	free(room);
	return 0;
}
