// A network for pictures as a list of steps, run in the calling thread. One is for one thread at a time.
#ifndef PT_SEGNET_NET_H
#define PT_SEGNET_NET_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct pt_segnet pt_segnet;

// What a convolution does. own: each channel is filtered by itself.
typedef struct {
  int32_t outputs, inputs, size, step, pad, own;
  float low, high; // what its results are bounded by
} pt_segnet_conv;

// A step: convolutions one behind the other, each -1 where there is none. point is of 1 x 1, or, where nothing follows it, of any size;
// its results are added to those of a picture of half the size (up). filter filters each channel by itself; mix and head are of 1 x 1, and
// a picture of the same size (add) is added before the head. in, up, add and out are numbers of pictures; 0 is the network's input.
typedef struct {
  int32_t point, filter, mix, head, in, up, add, out;
} pt_segnet_step;

// NULL where there is no memory. any_processor: without the code for the processor at hand.
pt_segnet *pt_segnet_new(int any_processor);
void pt_segnet_free(pt_segnet *net);

// The weights, by output, input, row, column, and the biases are copied. 0 where there is no memory.
int pt_segnet_add_conv(pt_segnet *net, const pt_segnet_conv *conv, const float *weights, const float *bias);
int pt_segnet_add_step(pt_segnet *net, const pt_segnet_step *step);

// The room for an input of so many planes of h x w, to be filled before each run; NULL where there is no memory.
float *pt_segnet_input(pt_segnet *net, int planes, int h, int w);

// The last step's picture, planes one after another, which holds until the next run; NULL where there is no memory, or the size does not do.
const float *pt_segnet_run(pt_segnet *net, int *planes, int *h, int *w);

// 1 where none of the values is infinite or no number.
int pt_segnet_finite(const float *v, size_t n);

#ifdef __cplusplus
}
#endif

#endif
