#include "fill.h"

void pt_leafnet_fill(const uint8_t *pix, size_t colours, size_t others, float *restrict x) {
  for (size_t i = 0; i < colours; i++) x[i] = (float)(pix[i] - 127) / 128;
  for (size_t i = colours; i < colours + others; i++) x[i] = (float)pix[i] / 255;
}
