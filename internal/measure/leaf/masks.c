#include "masks.h"

void pt_leaf_over(const float *restrict p, size_t n, float limit, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) out[i] = p[i] > limit;
}

void pt_leaf_unsure(const float *restrict p, const float *restrict apart, size_t n, float low, float high, float most, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) out[i] = (uint8_t)((p[i] > low) & (p[i] < high)) | (apart[i] > most);
}

void pt_leaf_kinds(const uint8_t *restrict core, const uint8_t *restrict around, const uint8_t *restrict block, size_t n, uint8_t leaf, uint8_t ground, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) out[i] = core[i] ? leaf : (uint8_t)((around[i] | block[i]) ? 0 : ground);
}

void pt_leaf_band(const uint8_t *restrict core, const uint8_t *restrict cover, const uint8_t *restrict block, const float *restrict p, size_t n, float low, float high, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) {
    const uint8_t rim = cover[i] & (uint8_t)(core[i] == 0), open = (uint8_t)((p[i] > low) & (p[i] < high));
    out[i] = (uint8_t)((rim | open) & (block[i] == 0));
  }
}
