// Built as ISO C, so that no product is fused with a sum: the numbers are those of the same lines in Go.
#include "classes.h"

#include <stdint.h>
#include <string.h>

enum { MEDIUM, LIVING, TIP, OLD, HIDDEN, ON_WALL, CLASSES, LANES = 4 };

typedef float four __attribute__((vector_size(16)));
typedef int32_t whole __attribute__((vector_size(16)));

static inline four all(float x) { return (four){x, x, x, x}; }

// Where yes is, a, elsewhere b.
static inline four either(whole yes, four a, four b) { return (four)(((whole)a & yes) | ((whole)b & ~yes)); }

static inline four larger(four a, four b) { return either(a > b, a, b); }

// The exponential of what is not above 0, to 0.2 %: 2^n by the exponent's bits, the rest by a polynomial. Below -60 it is 0, which is nothing
// beside 1: 1e-26; the exponent's bits would run out at -87.
static inline four exponential(four v) {
	const four least = all(-60);
	four t = larger(v, least) * all(1.44269504088896340736f);
	whole i = __builtin_convertvector(t, whole) - 1;
	four n = __builtin_convertvector(i, four), f = t - n; // f: 0..2
	four p = 1 + f * (0.6931472f + f * (0.2402265f + f * (0.0555041f + f * (0.0096181f + f * 0.0013333f))));
	return (four)((whole)((four)((i + 127) << 23) * p) & ~(v < least));
}

static inline four load(const float *p, size_t n) {
	float v[LANES] = {0};
	four out;
	memcpy(&out, n < LANES ? memcpy(v, p, n * sizeof *p) : p, sizeof out);
	return out;
}

static inline void spread(four v, size_t n, float *to) {
	for (size_t k = 0; k < n; k++)
		to[2 * k] = v[k];
}

void pt_root_classes(const float *logits, size_t step, size_t n, float sure, float *any, float *tip, float *old, float *hidden, float *on_wall, float *line) {
	for (size_t x = 0; x < n; x += LANES) {
		size_t m = n - x < LANES ? n - x : LANES;
		four e[CLASSES], others = load(logits + LIVING * step + x, m);
		e[MEDIUM] = load(logits + x, m);
		e[LIVING] = others;
		for (int c = TIP; c < CLASSES; c++) {
			e[c] = load(logits + c * step + x, m);
			others = larger(e[c], others);
		}
		whole some = e[MEDIUM] - others < all(sure);
		if (!(some[0] | some[1] | some[2] | some[3]))
			continue;
		four most = larger(others, e[MEDIUM]), sum = all(0);
		for (int c = 0; c < CLASSES; c++) {
			e[c] = exponential(e[c] - most);
			sum += e[c];
		}
		four k = (four)((whole)(1 / sum) & some), root = k * (e[LIVING] + e[TIP] + e[OLD]);
		spread(root, m, any + 2 * x);
		spread(k * e[TIP], m, tip + 2 * x);
		spread(k * e[OLD], m, old + 2 * x);
		spread(k * e[HIDDEN], m, hidden + 2 * x);
		spread(k * e[ON_WALL], m, on_wall + 2 * x);
		if (line) {
			four l = load(logits + CLASSES * step + x, m), r = exponential(-larger(l, -l));
			spread((four)((whole)(either(l < all(0), r, all(1)) / (1 + r)) & (root > all(0))), m, line + 2 * x);
		}
	}
}
