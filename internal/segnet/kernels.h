// The inner loops of chain.cpp, for the processor at hand.
#ifndef PT_SEGNET_KERNELS_H
#define PT_SEGNET_KERNELS_H

struct Kernels {
  int strip;  // mix takes multiples of so many columns
  void (*mix)(const float *w, const float *bias, const float *const *rows, int at, int k, int columns, float *const *out, float low, float high);
  void (*filter)(int size, int lanes, const float *w, float bias, const float *const *rows, int lane, int columns, float *out, float low, float high);
};

extern const Kernels plainKernels;
#if defined(__x86_64__)
extern const Kernels avx2Kernels;
#endif

#endif
