#ifndef PT_REGIONS_DECODE_H
#define PT_REGIONS_DECODE_H

#include <stddef.h>
#include <stdint.h>

enum { PT_CLASSES = 5, PT_LEAF = 1 };

// pt_regions_decode is what Decode says, for w x h places: planes of 4 w h probabilities, one a class, and the likeliest classes. powers
// are those of two for 0 .. 1 in 1024 steps; room holds (PT_CLASSES + 7) w values. Not 0: something is not finite.
int pt_regions_decode(const float *logits, size_t w, size_t h, float inverse, const float *powers, float *planes, uint8_t *classes, float *room);

// pt_regions_mean makes of the plane a, of w x h places, the mean with b, which lies in the mirror; apart, where it is not NULL, becomes how
// far the two were from each other.
void pt_regions_mean(float *a, const float *b, size_t w, size_t h, float *apart);

// pt_regions_likeliest gives for n places the plane that is largest there, the first of equals.
void pt_regions_likeliest(const float *p0, const float *p1, const float *p2, const float *p3, const float *p4, size_t n, uint8_t *classes);

// pt_regions_any_processor makes these functions use the code for any processor, or the fastest there is.
void pt_regions_any_processor(int yes);

#endif
