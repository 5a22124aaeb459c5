#ifndef PT_REGIONS_DETAIL_H
#define PT_REGIONS_DETAIL_H

#include <stddef.h>
#include <stdint.h>

// pt_regions_detail looks through a picture's green channel, reduced k times (means, rounded down), and that at half its size, for the
// strongest difference of a pixel from its four neighbours, summed over them. Each of the w x h places gets the strongest in it, in
// fine and in coarse, which hold zeros. room holds pt_regions_detail_room bytes.
void pt_regions_detail(const uint8_t *bgr, size_t photo_w, size_t photo_h, size_t k, size_t w, size_t h, uint16_t *fine, uint16_t *coarse, uint8_t *room);

size_t pt_regions_detail_room(size_t photo_w, size_t k);

#endif
