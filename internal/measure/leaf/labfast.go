package leaf

/*
#cgo CFLAGS: -O3 -std=c11
#cgo LDFLAGS: -lm
#include "labgrid.h"
*/
import "C"

import (
	"math"
	"unsafe"

	"phototrack/internal/colour"
)

func sqrt32(x float32) float32 {
	if x <= 0 {
		return 0
	}
	return float32(math.Sqrt(float64(x)))
}

// The cube root of CIELAB from a table: 4096 steps over 0..1.5 with linear interpolation are within 0.02 of L* above
// L* = 8, far below a photo's noise, and an order of magnitude faster than the function.
const (
	labSteps = 4096
	labTop   = 1.5
)

type labTable [labSteps + 2]float32

func newLabTable() *labTable {
	var t labTable
	for i := range t {
		x := float64(i) * labTop / labSteps
		if x > 216.0/24389.0 {
			t[i] = float32(math.Cbrt(x))
		} else {
			t[i] = float32((24389.0/27.0*x + 16) / 116)
		}
	}
	return &t
}

// picture gives CIELAB (D65) of a picture's corrected colours, with the matrix and white of package colour, into L, A and B.
// Light below black, which rounding of the correction makes, counts as black.
func (t *labTable) picture(c *Colour, pix []uint8, L, A, B []float32) {
	n := len(pix) / 3
	if n == 0 || len(L) < n || len(A) < n || len(B) < n {
		return
	}
	root := C.int(0)
	if c.Root {
		root = 1
	}
	f := func(p *float32) *C.float { return (*C.float)(unsafe.Pointer(p)) }
	C.pt_leaf_lab((*C.uint8_t)(unsafe.Pointer(&pix[0])), C.size_t(n), f(&c.Tone[0][0]), f(&c.Mix[0][0]), root, f(&t[0]), labSteps, labTop,
		f(&L[0]), f(&A[0]), f(&B[0]))
}

func abs32(x float32) float32 {
	if x < 0 {
		return -x
	}
	return x
}

// encodeTable is the sRGB encoding (IEC 61966-2-1) over 0..1 in 4096 steps of the square root of light, 0..255: within
// 0.02 of the formula.
type encodeTable [labSteps + 2]float32

func newEncodeTable() *encodeTable {
	var t encodeTable
	for i := range t {
		r := float64(i) / labSteps
		t[i] = float32(255 * colour.Encode(r*r))
	}
	return &t
}

func (t *encodeTable) at(l float64) float64 {
	r := math.Sqrt(max(0, min(1, l))) * labSteps
	i := int(r)
	return float64(t[i] + float32(r-float64(i))*(t[i+1]-t[i]))
}
