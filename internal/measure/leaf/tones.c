#include "tones.h"

enum { SIDE = PT_LEAF_TONES };

static inline float spread(float lo, float mid, float hi, float n) { return (lo + 2 * mid + hi) / n; }

// along spreads over the tones of the colour whose values lie step apart; n is four times what the sums are divided by.
static void along(const float *restrict from, float *restrict to, int step, float n) {
  for (int block = 0; block < SIDE * SIDE * SIDE; block += step * SIDE)
    for (int t = 0; t < SIDE; t++) {
      const float *mid = from + block + t * step, *lo = t > 0 ? mid - step : mid, *hi = t < SIDE - 1 ? mid + step : mid;
      float *restrict out = to + block + t * step;
      for (int i = 0; i < step; i++) out[i] = spread(lo[i], mid[i], hi[i], n);
    }
}

// side is along with a step of 1.
static void side(const float *restrict from, float *restrict to, float n) {
  for (int block = 0; block < SIDE * SIDE * SIDE; block += SIDE) {
    const float *f = from + block;
    float *restrict t = to + block;
    for (int i = 1; i < SIDE - 1; i++) t[i] = spread(f[i - 1], f[i], f[i + 1], n);
    t[0] = spread(f[0], f[0], f[1], n), t[SIDE - 1] = spread(f[SIDE - 2], f[SIDE - 1], f[SIDE - 1], n);
  }
}

void pt_leaf_spread_tones(float *count, float n, float *share) {
  side(count, share, 4 * n);
  along(share, count, SIDE, 4);
  along(count, share, SIDE * SIDE, 4);
}
