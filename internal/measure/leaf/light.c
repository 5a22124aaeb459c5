// Built as ISO C, so that no product is fused with a sum: the numbers are those of Colour.Linear, in Go.
#include "light.h"

#include <math.h>
#include <string.h>

#pragma GCC optimize("no-math-errno", "no-trapping-math") // so that roots are taken several at a time

enum { AT_ONCE = 64 };

typedef struct {
  float r[AT_ONCE], g[AT_ONCE], b[AT_ONCE];
} some;

static inline float root_of(float x) { return x <= 0 ? 0 : sqrtf(x); }

// light works out up to AT_ONCE pixels.
static void light(const uint8_t *bgr, size_t n, const float *tone, const float *m, int root, some *to) {
  float x[AT_ONCE], y[AT_ONCE], z[AT_ONCE];
  memset(x, 0, sizeof x), memset(y, 0, sizeof y), memset(z, 0, sizeof z);
  for (size_t i = 0; i < n; i++) x[i] = tone[bgr[3 * i + 2]], y[i] = tone[256 + bgr[3 * i + 1]], z[i] = tone[512 + bgr[3 * i]];
  for (int i = 0; i < AT_ONCE; i++) {
    to->r[i] = m[0] * x[i] + m[1] * y[i] + m[2] * z[i];
    to->g[i] = m[6] * x[i] + m[7] * y[i] + m[8] * z[i];
    to->b[i] = m[12] * x[i] + m[13] * y[i] + m[14] * z[i];
  }
  if (!root) return;
  for (int i = 0; i < AT_ONCE; i++) {
    const float p = root_of(x[i] * y[i]), q = root_of(y[i] * z[i]), s = root_of(z[i] * x[i]);
    to->r[i] += m[3] * p + m[4] * q + m[5] * s;
    to->g[i] += m[9] * p + m[10] * q + m[11] * s;
    to->b[i] += m[15] * p + m[16] * q + m[17] * s;
  }
}

void pt_leaf_light(const uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, float *rgb) {
  some c;
  for (; n > 0; bgr += 3 * AT_ONCE, rgb += 3 * AT_ONCE) {
    const size_t k = n < AT_ONCE ? n : AT_ONCE;
    light(bgr, k, tone, mix, root, &c);
    for (size_t i = 0; i < k; i++) rgb[3 * i] = c.r[i], rgb[3 * i + 1] = c.g[i], rgb[3 * i + 2] = c.b[i];
    if ((n -= k) == 0) return;
  }
}

void pt_leaf_light_square(const uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, float *to) {
  some c;
  for (; n > 0; bgr += 3 * AT_ONCE, to += 4 * AT_ONCE) {
    const size_t k = n < AT_ONCE ? n : AT_ONCE;
    light(bgr, k, tone, mix, root, &c);
    for (size_t i = 0; i < k; i++) {
      to[4 * i] = c.r[i], to[4 * i + 1] = c.g[i], to[4 * i + 2] = c.b[i];
      to[4 * i + 3] = c.r[i] * c.r[i] + c.g[i] * c.g[i] + c.b[i] * c.b[i];
    }
    if ((n -= k) == 0) return;
  }
}

static void encode(const float *l, const uint8_t *encoded, int steps, uint8_t *restrict to) {
  int at[AT_ONCE];
  for (int i = 0; i < AT_ONCE; i++) at[i] = (int)(root_of(l[i] < 1 ? l[i] : 1) * (float)steps + 0.5f);
  for (int i = 0; i < AT_ONCE; i++) to[i] = encoded[at[i]];
}

void pt_leaf_correct(uint8_t *bgr, size_t n, const float *tone, const float *mix, int root, const uint8_t *encoded, int steps) {
  some c;
  uint8_t r[AT_ONCE], g[AT_ONCE], b[AT_ONCE];
  for (; n > 0; bgr += 3 * AT_ONCE) {
    const size_t k = n < AT_ONCE ? n : AT_ONCE;
    light(bgr, k, tone, mix, root, &c);
    encode(c.r, encoded, steps, r), encode(c.g, encoded, steps, g), encode(c.b, encoded, steps, b);
    for (size_t i = 0; i < k; i++) bgr[3 * i] = b[i], bgr[3 * i + 1] = g[i], bgr[3 * i + 2] = r[i];
    if ((n -= k) == 0) return;
  }
}
