#include "resample.h"

void pt_regions_across(const uint8_t *bgr, const int32_t *from, const int32_t *count, const uint32_t *weight, size_t n, uint32_t *restrict out) {
  for (size_t i = 0; i < n; i++, out += 3) {
    const uint8_t *p = bgr + 3 * (size_t)from[i];
    uint32_t b = 0, g = 0, r = 0;
    for (int32_t k = count[i]; k > 0; k--, p += 3) {
      const uint32_t v = *weight++;
      b += v * p[0], g += v * p[1], r += v * p[2];
    }
    out[0] = b >> 4, out[1] = g >> 4, out[2] = r >> 4;
  }
}

void pt_regions_down(const uint32_t *restrict row, uint32_t weight, size_t n, uint32_t *restrict sum) {
  for (size_t i = 0; i < n; i++) sum[i] += weight * row[i];
}

void pt_regions_bytes(const uint32_t *restrict sum, size_t n, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) out[i] = (uint8_t)((sum[i] + (1u << 19)) >> 20);
}
