#ifndef PHOTOTRACK_LEAF_LABGRID_H
#define PHOTOTRACK_LEAF_LABGRID_H
#include <stddef.h>
#include <stdint.h>

// CIELAB of n pixels of three bytes, blue, green, red. tone: three curves of 256 values, red, green, blue. mix: three rows of six. table:
// the cube root of CIELAB over 0 to top in steps equal parts, and one value more.
void pt_leaf_lab(const uint8_t *pix, size_t n, const float *tone, const float *mix, int root, const float *table, float steps, float top,
                 float *L, float *A, float *B);
#endif
