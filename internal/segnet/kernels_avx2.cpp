// For processors with AVX2 and fused multiplication and addition, which nearly all of the last ten years have. OpenCV's own code
// chooses likewise, so that results differ between these and others in the last digits as they do anyhow.
#include "kernels.h"

#if defined(__x86_64__)
#pragma GCC target("avx2,fma")

namespace {
#include "loops.h"
}

const Kernels avx2Kernels = {strip, mix, filter};
#endif
