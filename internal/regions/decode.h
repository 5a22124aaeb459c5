#ifndef PT_REGIONS_DECODE_H
#define PT_REGIONS_DECODE_H

#include <stddef.h>
#include <stdint.h>

enum { PT_CLASSES = 5, PT_LEAF = 1 };

// pt_regions_decode is what Decode says, for w x h places: planes of 4 w h probabilities, one a class, and the likeliest classes. powers
// are those of two for 0 .. 1 in 1024 steps; room holds (PT_CLASSES + 7) w values. Not 0: something is not finite.
int pt_regions_decode(const float *logits, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room);

#endif
