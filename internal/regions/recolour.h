#ifndef PT_REGIONS_RECOLOUR_H
#define PT_REGIONS_RECOLOUR_H

#include <stddef.h>
#include <stdint.h>

// pt_regions_maybe_purple is 1, for each of n places of a view's planes, where the mean of its four pixels has that much more red than
// green, and blue that is no more than so much under green, and neither card nor tag lies there.
void pt_regions_maybe_purple(const uint8_t *pix, size_t n, int over_green, int under_green, uint8_t *out);

#endif
