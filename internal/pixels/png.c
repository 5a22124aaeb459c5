#include "pixels.h"
#include <stdlib.h>
#include <string.h>

static inline short size(short v) { return v < 0 ? -v : v; }

// The sum of a filtered row's bytes as distances from 0: the smaller, the better it is packed, as a rule (PNG Specification,
// 12.7).
static long weight(const uint8_t *restrict p, int n) {
	long sum = 0;
	for (int i = 0; i < n; i++) sum += p[i] < 128 ? p[i] : 256 - p[i];
	return sum;
}

// For how many rows the filter that was found best for the first is kept.
enum { ROWS_ALIKE = 4 };

// Filters a row of n bytes, three to the pixel, by one of PNG's filters: 1 sub, 2 up, 3 average, 4 Paeth; the row itself is
// its filter 0. Before cur and above stand three bytes of 0.
static void one(int filter, const uint8_t *restrict cur, const uint8_t *restrict above, int n, uint8_t *restrict out) {
	switch (filter) {
	case 1:
		for (int i = 0; i < n; i++) out[i] = cur[i] - cur[i - 3];
		return;
	case 2:
		for (int i = 0; i < n; i++) out[i] = cur[i] - above[i];
		return;
	case 3:
		for (int i = 0; i < n; i++) out[i] = cur[i] - (uint8_t)((cur[i - 3] + above[i]) >> 1);
		return;
	case 4:
		for (int i = 0; i < n; i++) {
			const short a = cur[i - 3], b = above[i], c = above[i - 3];
			const short pa = size(b - c), pb = size(a - c), pc = size(a + b - 2 * c);
			const short bc = pb <= pc ? b : c, least = pb <= pc ? pb : pc;
			out[i] = cur[i] - (uint8_t)(pa <= least ? a : bc);
		}
	}
}

// Writes the rows of an opaque picture as PNG packs them: the filter's number and three bytes a pixel. 0: done; 1: no memory.
int pt_png(const uint8_t *rgba, int stride, int w, int h, uint8_t *out) {
	const int n = 3 * w;
	uint8_t *room = calloc(6, n + 3);
	if (!room) return 1;
	uint8_t *cur = room + 3, *above = cur + n + 3, *row[5] = {cur};
	for (int f = 1; f < 5; f++) row[f] = above + (size_t)f * (n + 3) - 3;
	int last = 2, keep = 0; // the filter of the row above, and for how many rows more it is kept
	for (int y = 0; y < h; y++) {
		const uint8_t *p = rgba + (size_t)y * stride;
		for (int x = 0; x < w; x++) {
			cur[3 * x] = p[4 * x];
			cur[3 * x + 1] = p[4 * x + 1];
			cur[3 * x + 2] = p[4 * x + 2];
		}
		row[0] = cur;
		int best = 2;
		if (y > 0 && !memcmp(cur, above, n)) { // plain paper, mostly
			memset(row[2], 0, n);
			keep = 0;
		} else if (keep > 0) { // rows beside each other are packed best by the same filter, as a rule
			best = last;
			one(best, cur, above, n, row[best]);
			keep--;
		} else {
			for (int f = 1; f < 5; f++) one(f, cur, above, n, row[f]);
			long least = weight(row[2], n);
			for (int f = 0; f < 5; f++) {
				const long v = f == 2 ? least : weight(row[f], n);
				if (v < least) least = v, best = f;
			}
			last = best;
			keep = ROWS_ALIKE - 1;
		}
		*out++ = (uint8_t)best;
		memcpy(out, row[best], n);
		out += n;
		uint8_t *t = cur;
		cur = above;
		above = t;
	}
	free(room);
	return 0;
}
