// Built as ISO C, so that no product is fused with a sum: the numbers are those of the same lines in Go.
#include "decode.h"

#include <string.h>

// exponent is the exponential by a table of powers of two and the first term of the rest.
static inline float exponent(float x, const float *powers) {
  const int steps = 1024;
  float y = x < 30 ? x : 30;
  y = (y > -30 ? y : -30) * (float)(1024 * 1.44269504088896340736);
  const float z = y + 64 * 1024;
  const int k = (int)z;
  const float f = z - (float)k;
  const uint32_t bits = (uint32_t)(k / steps - 64 + 127) << 23;
  float two;
  memcpy(&two, &bits, sizeof two);
  return two * powers[k % steps] * (1 + f * (float)(0.69314718055994530942 / 1024));
}

int pt_regions_decode(const float *logits, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room) {
  const size_t n = w * h;
  float *restrict e[PT_CLASSES], *restrict top = room + PT_CLASSES * w, *restrict rest = top + w, *restrict best = rest + w;
  float *restrict part[2] = {best + w, best + 2 * w}, *restrict one[2] = {best + 3 * w, best + 4 * w};
  for (int c = 0; c < PT_CLASSES; c++) e[c] = room + c * w;
  int bad = 0;
  for (size_t y = 0; y < h; y++) {
    for (int c = 0; c < PT_CLASSES; c++) {
      const float *in = logits + c * n + y * w;
      float *restrict to = e[c];
      for (size_t x = 0; x < w; x++) {
        const float v = in[x] * inverse;
        bad |= !(v > -1e6f) | !(v < 1e6f);
        to[x] = v;
      }
    }
    for (size_t x = 0; x < w; x++) top[x] = e[0][x], best[x] = 0, rest[x] = 0;
    for (int c = 1; c < PT_CLASSES; c++) {
      if (c == PT_LEAF) continue;
      const float *in = e[c];
      for (size_t x = 0; x < w; x++) {
        best[x] = in[x] > top[x] ? (float)c : best[x];
        top[x] = in[x] > top[x] ? in[x] : top[x];
      }
    }
    if (bad) return 1;
    for (int c = 0; c < PT_CLASSES; c++) {
      if (c == PT_LEAF) continue;
      float *restrict to = e[c];
      for (size_t x = 0; x < w; x++) {
        to[x] = exponent(to[x] - top[x], powers);
        rest[x] += to[x];
      }
    }
    for (int v = 0; v < 2; v++) { // the two rows of the fine picture
      for (int u = 0; u < 2; u++) {
        const float *in = logits + (PT_CLASSES + 2 * v + u) * n + y * w, *leaf = e[PT_LEAF];
        float *restrict l = part[u], *restrict k = one[u];
        for (size_t x = 0; x < w; x++) {
          const float z = leaf[x] + in[x] * inverse - top[x];
          if (!(z == z)) return 1;
          l[x] = exponent(z, powers);
          k[x] = 1 / (rest[x] + l[x]);
        }
      }
      const size_t o = (2 * y + v) * 2 * w;
      for (int c = 0; c < PT_CLASSES; c++) {
        const float *a = c == PT_LEAF ? part[0] : e[c], *b = c == PT_LEAF ? part[1] : e[c], *k = one[0], *m = one[1];
        float *restrict to = planes + c * 4 * n + o;
        for (size_t x = 0; x < w; x++) to[2 * x] = a[x] * k[x], to[2 * x + 1] = b[x] * m[x];
      }
      uint8_t *restrict class = classes + o;
      for (size_t x = 0; x < w; x++) {
        class[2 * x] = part[0][x] > 1 ? PT_LEAF : (uint8_t)best[x];
        class[2 * x + 1] = part[1][x] > 1 ? PT_LEAF : (uint8_t)best[x];
      }
    }
  }
  return 0;
}
