// Built as ISO C, so that no product is fused with a sum: the numbers are those of the same lines in Go.
#include "decode.h"

#include <string.h>

// The loops are compiled twice: for any processor, and for those with AVX2, which do eight places at a time. Both round alike: without
// fused multiplication, which neither is compiled for, every place gets the same sums in the same order.
#define LOOPS static inline __attribute__((always_inline))

// exponent is the exponential by a table of powers of two and the first term of the rest.
LOOPS float exponent(float x, const float *powers) {
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

LOOPS int decode(const float *logits, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room) {
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

LOOPS void mean(float *a, const float *b, size_t w, size_t h, float *apart) {
  for (size_t y = 0; y < h; y++) {
    float *to = a + y * w, *far = apart + y * w;
    const float *from = b + y * w;
    if (apart)
      for (size_t x = 0; x < w; x++) {
        const float d = to[x] - from[w - 1 - x];
        far[x] = d > -d ? d : -d;
      }
    for (size_t x = 0; x < w; x++) to[x] = (to[x] + from[w - 1 - x]) / 2;
  }
}

LOOPS void likeliest(const float *const *planes, size_t n, uint8_t *restrict classes) {
  const float *p0 = planes[0], *p1 = planes[1], *p2 = planes[2], *p3 = planes[3], *p4 = planes[4];
  for (size_t i = 0; i < n; i++) {
    float most = p0[i], best = 0;
    best = p1[i] > most ? 1 : best, most = p1[i] > most ? p1[i] : most;
    best = p2[i] > most ? 2 : best, most = p2[i] > most ? p2[i] : most;
    best = p3[i] > most ? 3 : best, most = p3[i] > most ? p3[i] : most;
    best = p4[i] > most ? 4 : best;
    classes[i] = (uint8_t)best;
  }
}

_Static_assert(PT_CLASSES == 5, "likeliest knows five");

static int decode_plain(const float *l, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room) {
  return decode(l, w, h, inverse, powers, planes, classes, room);
}

static void mean_plain(float *a, const float *b, size_t w, size_t h, float *apart) { mean(a, b, w, h, apart); }

static void likeliest_plain(const float *const *planes, size_t n, uint8_t *classes) { likeliest(planes, n, classes); }

static int any_processor = 0; // use the code for any processor on every one: for tests

void pt_regions_any_processor(int yes) { any_processor = yes; }

#if defined(__x86_64__)
__attribute__((target("avx2"))) static int decode_avx2(const float *l, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room) {
  return decode(l, w, h, inverse, powers, planes, classes, room);
}

__attribute__((target("avx2"))) static void mean_avx2(float *a, const float *b, size_t w, size_t h, float *apart) { mean(a, b, w, h, apart); }

__attribute__((target("avx2"))) static void likeliest_avx2(const float *const *planes, size_t n, uint8_t *classes) { likeliest(planes, n, classes); }

static int eight(void) { return !any_processor && __builtin_cpu_supports("avx2"); }
#else
#define decode_avx2 decode_plain
#define mean_avx2 mean_plain
#define likeliest_avx2 likeliest_plain
static int eight(void) { return 0; }
#endif

int pt_regions_decode(const float *logits, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room) {
  return (eight() ? decode_avx2 : decode_plain)(logits, w, h, inverse, powers, planes, classes, room);
}

void pt_regions_mean(float *a, const float *b, size_t w, size_t h, float *apart) { (eight() ? mean_avx2 : mean_plain)(a, b, w, h, apart); }

void pt_regions_likeliest(const float *p0, const float *p1, const float *p2, const float *p3, const float *p4, size_t n, uint8_t *classes) {
  const float *const planes[PT_CLASSES] = {p0, p1, p2, p3, p4};
  (eight() ? likeliest_avx2 : likeliest_plain)(planes, n, classes);
}
