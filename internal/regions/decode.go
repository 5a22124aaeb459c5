package regions

/*
#cgo CFLAGS: -O3 -std=c11
#include "decode.h"
*/
import "C"

import "unsafe"

// decode fills the map's planes, which lie one after another in planes, and its likeliest classes from a network's logits, each times
// inverse, for a quarter as many places. false: not finite. The exponential is right within three parts in ten million, for -30 .. 30; beyond, it has the values there.
func (m *Map) decode(logits []float32, inverse float32, planes []float32) bool {
	w, h := m.W/2, m.H/2
	room := make([]float32, (C.PT_CLASSES+7)*w)
	return C.pt_regions_decode(floats(logits), C.size_t(w), C.size_t(h), C.float(inverse), floats(powers[:]), floats(planes),
		(*C.uint8_t)(unsafe.Pointer(&m.Class[0])), floats(room)) == 0
}

// average makes of a's planes the mean with b's, seen in the mirror, and fills a's classes and how far the two are apart about leaf.
func average(a, b *Map) {
	if a.W*a.H == 0 {
		return
	}
	w, h := C.size_t(a.W), C.size_t(a.H)
	for c := range a.P {
		var apart *C.float
		if Class(c) == Leaf {
			apart = floats(a.Apart)
		}
		C.pt_regions_mean(floats(a.P[c]), floats(b.P[c]), w, h, apart)
	}
	p := &a.P
	C.pt_regions_likeliest(floats(p[0]), floats(p[1]), floats(p[2]), floats(p[3]), floats(p[4]), w*h, (*C.uint8_t)(unsafe.Pointer(&a.Class[0])))
}

// forAnyProcessor makes the C code use that the code for any processor, so that a test can try it where there is faster code.
func forAnyProcessor(yes bool) {
	n := C.int(0)
	if yes {
		n = 1
	}
	C.pt_regions_any_processor(n)
}

// What the C code takes the classes for.
var _ = [1]struct{}{}[Classes-C.PT_CLASSES+Leaf-C.PT_LEAF]

func floats(p []float32) *C.float { return (*C.float)(unsafe.Pointer(&p[0])) }
