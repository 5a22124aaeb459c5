// Built as ISO C, so that no product is fused with a sum. The sums are taken pixel by pixel, row by row, each in its own place of a vector.
#include "sides.h"

typedef float four __attribute__((vector_size(16), aligned(4), may_alias));

// window is the part of the picture about a pixel.
typedef struct {
  int32_t x0, x1, y0, y1;
} window;

static inline int32_t least(int32_t a, int32_t b) { return a < b ? a : b; }
static inline int32_t most(int32_t a, int32_t b) { return a > b ? a : b; }

static inline void keep(four v, float *to) {
  for (int i = 0; i < 4; i++) to[i] = v[i];
}

static void whole(const pt_leaf_field *f, const window *a, const float *light, const uint8_t *kinds, const float *weight, pt_leaf_side *to) {
  four in = {0}, out = {0};
  float w_in = 0, w_out = 0;
  int32_t n_in = 0, n_out = 0;
  for (int32_t y = a->y0; y < a->y1; y++, weight += PT_LEAF_WINDOW) {
    const four *v = (const four *)light + (size_t)(y % f->ring) * f->w + a->x0;
    const uint8_t *kind = kinds + (size_t)y * f->w + a->x0;
    for (int32_t i = 0; i < a->x1 - a->x0; i++) {
      if (kind[i] == 0) continue;
      const float w = weight[i];
      if (kind[i] == PT_LEAF_SURE_LEAF) in += w * v[i], w_in += w, n_in++;
      else out += w * v[i], w_out += w, n_out++;
    }
  }
  keep(in, to->in), keep(out, to->out);
  to->w_in = w_in, to->w_out = w_out, to->n_in = n_in, to->n_out = n_out;
}

static void halves(const pt_leaf_field *f, const window *a, const float *light, const uint8_t *kinds, const float *weight, pt_leaf_side *to) {
  four dark = {0}, pale = {0};
  float w_dark = 0, w_pale = 0;
  int32_t n_dark = 0, n_pale = 0;
  const float mean = (to->in[0] + to->in[1] + to->in[2]) / to->w_in;
  for (int32_t y = a->y0; y < a->y1; y++, weight += PT_LEAF_WINDOW) {
    const four *v = (const four *)light + (size_t)(y % f->ring) * f->w + a->x0;
    const uint8_t *kind = kinds + (size_t)y * f->w + a->x0;
    for (int32_t i = 0; i < a->x1 - a->x0; i++) {
      if (kind[i] != PT_LEAF_SURE_LEAF) continue;
      const float w = weight[i];
      if (v[i][0] + v[i][1] + v[i][2] > mean) pale += w * v[i], w_pale += w, n_pale++;
      else dark += w * v[i], w_dark += w, n_dark++;
    }
  }
  keep(dark, to->half[0]), keep(pale, to->half[1]);
  to->w_half[0] = w_dark, to->w_half[1] = w_pale, to->n_half[0] = n_dark, to->n_half[1] = n_pale;
}

void pt_leaf_sides(pt_leaf_field f, const float *light, const uint8_t *kinds, const float *weight, int32_t few, int32_t y, const int32_t *x, size_t n, pt_leaf_side *to) {
  for (size_t i = 0; i < n; i++, to++) {
    const window a = {most(0, x[i] - PT_LEAF_REACH), least(f.w, x[i] + PT_LEAF_REACH + 1), most(0, y - PT_LEAF_REACH), least(f.h, y + PT_LEAF_REACH + 1)};
    const float *from = weight + (a.y0 - y + PT_LEAF_REACH) * PT_LEAF_WINDOW + (a.x0 - x[i] + PT_LEAF_REACH);
    whole(&f, &a, light, kinds, from, to);
    to->n_half[0] = to->n_half[1] = 0;
    if (to->n_in >= few) halves(&f, &a, light, kinds, from, to);
  }
}
