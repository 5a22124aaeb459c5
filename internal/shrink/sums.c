#include "sums.h"

#include <string.h>

// A 16-bit sum holds this many bytes without running over.
enum { MAX_SUM = 257 };

// Adds up rows of n bytes column by column, at most MAX_SUM of them. The usual numbers of rows are taken in one walk.
static void add_rows(const uint8_t *restrict p, size_t stride, int rows, size_t n, uint16_t *restrict sum) {
	switch (rows) {
	case 1:
		for (size_t i = 0; i < n; i++) sum[i] = p[i];
		return;
	case 2:
		for (size_t i = 0; i < n; i++) sum[i] = (uint16_t)(p[i] + p[stride + i]);
		return;
	case 3:
		for (size_t i = 0; i < n; i++) sum[i] = (uint16_t)(p[i] + p[stride + i] + p[2 * stride + i]);
		return;
	}
	for (size_t i = 0; i < n; i++) sum[i] = (uint16_t)(p[i] + p[stride + i] + p[2 * stride + i] + p[3 * stride + i]);
	int done = 4;
	for (; done + 1 < rows; done += 2) {
		const uint8_t *a = p + done * stride;
		for (size_t i = 0; i < n; i++) sum[i] = (uint16_t)(sum[i] + a[i] + a[stride + i]);
	}
	if (done < rows) {
		const uint8_t *a = p + done * stride;
		for (size_t i = 0; i < n; i++) sum[i] = (uint16_t)(sum[i] + a[i]);
	}
}

// The sums of n pixels side by side, blue, green and red in the three low lanes of 16 bits; what stands in the fourth is
// of no use. A lane holds MAX_SUM bytes.
static inline uint64_t three_lanes(const uint16_t *sum, int n) {
	uint64_t s = 0, v;
	for (int i = 0; i < n; i++) {
		memcpy(&v, sum + 3 * i, sizeof v);
		s += v;
	}
	return s;
}

// Lanes lie in memory in the order of the machine.
#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
enum { LANE0 = 0, LANE1 = 16, LANE2 = 32 };
#else
enum { LANE0 = 48, LANE1 = 32, LANE2 = 16 };
#endif

static inline uint32_t lane(uint64_t s, int at) { return (uint32_t)(s >> at) & 0xffff; }

static inline void block_row(const uint16_t *sum, int k, uint8_t *out, size_t w) {
	const uint32_t div = (uint32_t)(k * k), half = div / 2, mul = ((1u << 16) + div - 1) / div;
	for (size_t x = 0; x < w; x++, sum += 3 * k, out += 3) {
		uint64_t s = three_lanes(sum, k);
		uint32_t b = (lane(s, LANE0) + half) * mul >> 16, g = (lane(s, LANE1) + half) * mul >> 16, r = (lane(s, LANE2) + half) * mul >> 16;
		out[0] = (uint8_t)(b < 255 ? b : 255);
		out[1] = (uint8_t)(g < 255 ? g : 255);
		out[2] = (uint8_t)(r < 255 ? r : 255);
	}
}

void pt_shrink_blocks(const uint8_t *pix, size_t wide, int k, uint8_t *out, size_t w, size_t h, uint16_t *sum) {
	const size_t n = 3 * w * (size_t)k;
	for (size_t y = 0; y < h; y++, pix += 3 * wide * (size_t)k, out += 3 * w) {
		add_rows(pix, 3 * wide, k, n, sum);
		switch (k) { // known numbers of steps are laid out straight
		case 2: block_row(sum, 2, out, w); break;
		case 4: block_row(sum, 4, out, w); break;
		case 8: block_row(sum, 8, out, w); break;
		default: block_row(sum, k, out, w);
		}
	}
}

static inline void green_row(const uint16_t *sum, int k, uint8_t *out, size_t w, const uint8_t *mean) {
	for (size_t x = 0; x < w; x++, sum += 3 * k) {
		uint32_t s = 0;
		for (int i = 0; i < k; i++) s += sum[3 * i + 1];
		out[x] = mean[s];
	}
}

void pt_shrink_green(const uint8_t *pix, size_t wide, int k, uint8_t *out, size_t w, size_t h, uint16_t *sum, const uint8_t *mean) {
	const size_t n = 3 * w * (size_t)k;
	for (size_t y = 0; y < h; y++, pix += 3 * wide * (size_t)k, out += w) {
		add_rows(pix, 3 * wide, k, n, sum);
		switch (k) {
		case 2: green_row(sum, 2, out, w, mean); break;
		case 3: green_row(sum, 3, out, w, mean); break;
		case 5: green_row(sum, 5, out, w, mean); break;
		default: green_row(sum, k, out, w, mean);
		}
	}
}

// Areas of at most MAX_SUM px: one walk over the sums. floor(a/n) is a*ceil(2^24/n) >> 24 as long as a is below 2^16 and
// n at most 2^8 (Granlund & Montgomery 1994); larger n are divided.
static void small_spans(const uint16_t *sum, const int32_t *xs, int rows, uint8_t *out, size_t w) {
	uint32_t n = 0, half = 0;
	uint64_t inverse = 0;
	for (size_t x = 0; x < w; x++, out += 3) {
		int across = xs[x + 1] - xs[x];
		uint64_t s = three_lanes(sum, across);
		sum += 3 * across;
		if (n != (uint32_t)(rows * across)) {
			n = (uint32_t)(rows * across);
			half = n / 2;
			inverse = ((1u << 24) + n - 1) / n;
		}
		out[0] = (uint8_t)((lane(s, LANE0) + half) * inverse >> 24);
		out[1] = (uint8_t)((lane(s, LANE1) + half) * inverse >> 24);
		out[2] = (uint8_t)((lane(s, LANE2) + half) * inverse >> 24);
	}
}

// Areas of any size.
static void large_spans(const uint8_t *pix, size_t wide, const int32_t *xs, int rows, uint8_t *out, size_t w, uint16_t *sum, uint32_t *acc) {
	memset(acc, 0, 3 * w * sizeof *acc);
	for (int from = 0; from < rows; from += MAX_SUM) {
		int some = rows - from < MAX_SUM ? rows - from : MAX_SUM;
		add_rows(pix + 3 * wide * (size_t)from, 3 * wide, some, 3 * wide, sum);
		for (size_t x = 0; x < w; x++)
			for (int i = xs[x]; i < xs[x + 1]; i++)
				for (int c = 0; c < 3; c++) acc[3 * x + c] += sum[3 * i + c];
	}
	for (size_t x = 0; x < w; x++) {
		uint64_t n = (uint64_t)rows * (uint64_t)(xs[x + 1] - xs[x]);
		for (int c = 0; c < 3; c++) out[3 * x + c] = (uint8_t)((acc[3 * x + c] + n / 2) / n);
	}
}

void pt_shrink_spans(const uint8_t *pix, size_t wide, const int32_t *xs, const int32_t *ys, uint8_t *out, size_t w, size_t h, uint16_t *sum,
                     uint32_t *acc) {
	int widest = 0;
	for (size_t x = 0; x < w; x++)
		if (xs[x + 1] - xs[x] > widest) widest = xs[x + 1] - xs[x];
	for (size_t y = 0; y < h; y++, out += 3 * w) {
		const uint8_t *from = pix + 3 * wide * (size_t)ys[y];
		int rows = ys[y + 1] - ys[y];
		if (rows * widest < MAX_SUM) {
			add_rows(from, 3 * wide, rows, 3 * wide, sum);
			small_spans(sum, xs, rows, out, w);
		} else {
			large_spans(from, wide, xs, rows, out, w, sum, acc);
		}
	}
}
