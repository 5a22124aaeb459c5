// For any processor.
#include "kernels.h"

#pragma GCC diagnostic ignored "-Wpsabi" // no vector is passed outside this file

namespace {
#include "loops.h"
}

const Kernels plainKernels = {strip, mix, filter};
