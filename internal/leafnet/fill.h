#ifndef PT_LEAFNET_FILL_H
#define PT_LEAFNET_FILL_H

#include <stddef.h>
#include <stdint.h>

// pt_leafnet_fill writes bytes as the network takes them: colours about 0, everything else 0..1.
void pt_leafnet_fill(const uint8_t *pix, size_t colours, size_t others, float *x);

#endif
