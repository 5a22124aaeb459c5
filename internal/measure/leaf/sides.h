#ifndef PT_LEAF_SIDES_H
#define PT_LEAF_SIDES_H

#include <stddef.h>
#include <stdint.h>

enum { PT_LEAF_REACH = 5, PT_LEAF_WINDOW = 2 * PT_LEAF_REACH + 1 };

// What kinds of pixels there are.
enum { PT_LEAF_SURE_LEAF = 1, PT_LEAF_SURE_GROUND = 2 };

// Sums over the sure leaf and the sure ground in the window about a pixel: of the colour, of its square, of the weights, of pixels. half is
// of the leaf alone: of what is not lighter than its mean, and of what is; nothing where there are fewer pixels of it than few.
typedef struct {
  float in[4], out[4], half[2][4];
  float w_in, w_out, w_half[2];
  int32_t n_in, n_out, n_half[2];
} pt_leaf_side;

// A picture of w x h pixels: what kind each is of, and of some rows the light: row y as red, green, blue and their square, in place y % ring.
typedef struct {
  int32_t w, h, ring;
} pt_leaf_field;

// pt_leaf_sides sums about n pixels of row y; weight holds the window's, row by row.
void pt_leaf_sides(pt_leaf_field f, const float *light, const uint8_t *kinds, const float *weight, int32_t few, int32_t y, const int32_t *x, size_t n, pt_leaf_side *to);

#endif
