#ifndef PT_LEAFNET_FILL_H
#define PT_LEAFNET_FILL_H

#include <stddef.h>
#include <stdint.h>

// pt_leafnet_fill writes bytes as the network takes them: colours about 0, everything else 0..1.
void pt_leafnet_fill(const uint8_t *pix, size_t colours, size_t others, float *x);

// pt_leafnet_fill_fine writes three planes of colour at the fine picture's size, from the twelve of w x h bytes that hold its pixels (row by row four a
// place), and after them the four other planes with each byte twice in both directions.
void pt_leafnet_fill_fine(const uint8_t *pix, size_t w, size_t h, float *x);

#endif
