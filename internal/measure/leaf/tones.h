#ifndef PT_LEAF_TONES_H
#define PT_LEAF_TONES_H

enum { PT_LEAF_TONES = 16 }; // steps of each of three colours

// pt_leaf_spread_tones smooths counts of colours, of which there are n, along each of the three colours over three of its tones (1, 2, 1
// parts of 4), and divides them by n. The counts are lost.
void pt_leaf_spread_tones(float *count, float n, float *share);

#endif
