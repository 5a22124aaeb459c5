// Sums over boxes of a picture's pixels, in plain C that the compiler turns into vector code. Pictures are three bytes a
// pixel without padding.
#ifndef PHOTOTRACK_SHRINK_SUMS_H
#define PHOTOTRACK_SHRINK_SUMS_H
#include <stddef.h>
#include <stdint.h>

// A row of sums has room for this many more: four sums are read at a time, three used.
#define PT_SLACK 8

// Each pixel of out (w x h) is the mean of k x k pixels of pix, whose rows are wide px long; sum is room for 3*w*k + PT_SLACK.
void pt_shrink_blocks(const uint8_t *pix, size_t wide, int k, uint8_t *out, size_t w, size_t h, uint16_t *sum);

// The same of the green channel alone; mean[s] is the value for a box whose bytes add up to s.
void pt_shrink_green(const uint8_t *pix, size_t wide, int k, uint8_t *out, size_t w, size_t h, uint16_t *sum, const uint8_t *mean);

// Output column x stands for the columns xs[x] to xs[x+1]-1, and rows alike. sum is room for 3*wide + PT_SLACK, acc for 3*w.
void pt_shrink_spans(const uint8_t *pix, size_t wide, const int32_t *xs, const int32_t *ys, uint8_t *out, size_t w, size_t h, uint16_t *sum,
                     uint32_t *acc);
#endif
