#include "fill.h"

void pt_leafnet_fill(const uint8_t *pix, size_t colours, size_t others, float *restrict x) {
  for (size_t i = 0; i < colours; i++) x[i] = (float)(pix[i] - 127) / 128;
  for (size_t i = colours; i < colours + others; i++) x[i] = (float)pix[i] / 255;
}

void pt_leafnet_fill_fine(const uint8_t *pix, size_t w, size_t h, float *restrict x) {
  const size_t n = w * h, colours = 3, others = 4;
  for (size_t c = 0; c < colours; c++)
    for (size_t k = 0; k < 4; k++) { // the pixel at k % 2, k / 2 of each place
      const uint8_t *from = pix + (k * colours + c) * n;
      for (size_t y = 0; y < h; y++) {
        float *to = x + c * 4 * n + (2 * y + k / 2) * 2 * w + k % 2;
        for (size_t i = 0; i < w; i++) to[2 * i] = (float)(from[y * w + i] - 127) / 128;
      }
    }
  for (size_t c = 0; c < others; c++)
    for (size_t y = 0; y < h; y++) {
      const uint8_t *from = pix + (4 * colours + c) * n + y * w;
      float *to = x + (colours + c) * 4 * n + 4 * y * w;
      for (size_t i = 0; i < w; i++) to[2 * i] = to[2 * i + 1] = to[2 * w + 2 * i] = to[2 * w + 2 * i + 1] = (float)from[i] / 255;
    }
}
