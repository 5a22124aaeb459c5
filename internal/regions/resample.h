#ifndef PT_REGIONS_RESAMPLE_H
#define PT_REGIONS_RESAMPLE_H

#include <stddef.h>
#include <stdint.h>

// pt_regions_across gives for n places of a row, for each of three colours, the sum of the pixels that a place covers, each times its weight:
// count[i] of them from pixel from[i] on, whose weights follow one another in weight. 16 parts make one of the sum.
void pt_regions_across(const uint8_t *bgr, const int32_t *from, const int32_t *count, const uint32_t *weight, size_t n, uint32_t *out);

// pt_regions_down adds n values times weight to sum.
void pt_regions_down(const uint32_t *row, uint32_t weight, size_t n, uint32_t *sum);

// pt_regions_bytes gives n sums of 1 << 20 parts as bytes.
void pt_regions_bytes(const uint32_t *sum, size_t n, uint8_t *out);

#endif
