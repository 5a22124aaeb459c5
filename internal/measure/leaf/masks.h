// Passes over whole pictures that the compiler does many pixels at a time.
#ifndef PT_LEAF_MASKS_H
#define PT_LEAF_MASKS_H

#include <stddef.h>
#include <stdint.h>

// 1 where a value is over a limit.
void pt_leaf_over(const float *p, size_t n, float limit, uint8_t *out);

// 1 where a value lies between low and high, or another is over most.
void pt_leaf_unsure(const float *p, const float *apart, size_t n, float low, float high, float most, uint8_t *out);

// What leaf stands for in the core; what ground stands for where there is neither leaf nor anything blocked; 0 elsewhere.
void pt_leaf_kinds(const uint8_t *core, const uint8_t *around, const uint8_t *block, size_t n, uint8_t leaf, uint8_t ground, uint8_t *out);

// 1 in the cover (1 there) but not the core, and where a value lies between low and high; not where it is blocked.
void pt_leaf_band(const uint8_t *core, const uint8_t *cover, const uint8_t *block, const float *p, size_t n, float low, float high, uint8_t *out);

#endif
