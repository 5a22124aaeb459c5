#include "recolour.h"

void pt_regions_maybe_purple(const uint8_t *pix, size_t n, int over_green, int under_green, uint8_t *restrict out) {
  for (size_t i = 0; i < n; i++) {
    int16_t mean[3];
    for (size_t c = 0; c < 3; c++) {
      const uint8_t *p = pix + c * n + i;
      mean[c] = (int16_t)((p[0] + p[3 * n] + p[6 * n] + p[9 * n]) >> 2);
    }
    const int covered = pix[12 * n + i] | pix[13 * n + i];
    out[i] = (uint8_t)((mean[0] > mean[1] + over_green) & (mean[2] > mean[1] - under_green) & (covered == 0));
  }
}
