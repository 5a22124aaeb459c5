package leaf

/*
#include "masks.h"
*/
import "C"

import "unsafe"

// over is 1 where a value is over a limit.
func over(p []float32, limit float32) []uint8 {
	m := make([]uint8, len(p))
	if len(p) > 0 {
		C.pt_leaf_over(floats(p), C.size_t(len(p)), C.float(limit), bytesOf(m))
	}
	return m
}

// marks is 1 in what is not sure.
func (u unsure) marks(p, apart []float32) []uint8 {
	m := make([]uint8, len(p))
	if len(p) > 0 {
		C.pt_leaf_unsure(floats(p), floats(apart[:len(p)]), C.size_t(len(p)), C.float(u.p), C.float(1-u.p), C.float(u.apart), bytesOf(m))
	}
	return m
}

// kindsOf puts core, which is sure leaf, and what is neither around the leaf nor blocked, which is sure ground, together.
func kindsOf(core, around, block []uint8) []uint8 {
	kinds := make([]uint8, len(core))
	if n := len(core); n > 0 {
		C.pt_leaf_kinds(bytesOf(core), bytesOf(around[:n]), bytesOf(block[:n]), C.size_t(n), C.uint8_t(sureLeaf), C.uint8_t(sureGround), bytesOf(kinds))
	}
	return kinds
}

// bandOf is 1 in the cover but not the core, and where p is not sure (unsureP); not where it is blocked.
func bandOf(core, cover, block []uint8, p []float32) []uint8 {
	band := make([]uint8, len(core))
	if n := len(core); n > 0 {
		C.pt_leaf_band(bytesOf(core), bytesOf(cover[:n]), bytesOf(block[:n]), floats(p[:n]), C.size_t(n), C.float(1-unsureP), C.float(unsureP), bytesOf(band))
	}
	return band
}

func floats(p []float32) *C.float  { return (*C.float)(unsafe.Pointer(&p[0])) }
func bytesOf(p []uint8) *C.uint8_t { return (*C.uint8_t)(unsafe.Pointer(&p[0])) }
