package leaf

/*
#cgo CFLAGS: -O3 -std=c11
#cgo LDFLAGS: -lm
#include "light.h"
*/
import "C"

import "unsafe"

// linearRow is Linear of a row of pixels, as camera values blue, green, red.
func (c *Colour) linearRow(bgr []uint8, lin [][3]float32) {
	if len(lin) == 0 {
		return
	}
	_ = bgr[3*len(lin)-1]
	tone, mix, root := c.forC()
	C.pt_leaf_light((*C.uint8_t)(unsafe.Pointer(&bgr[0])), C.size_t(len(lin)), tone, mix, root, (*C.float)(unsafe.Pointer(&lin[0])))
}

// squareRow is linearRow with the sum of the three squares behind them.
func (c *Colour) squareRow(bgr []uint8, lin [][4]float32) {
	if len(lin) == 0 {
		return
	}
	_ = bgr[3*len(lin)-1]
	tone, mix, root := c.forC()
	C.pt_leaf_light_square((*C.uint8_t)(unsafe.Pointer(&bgr[0])), C.size_t(len(lin)), tone, mix, root, (*C.float)(unsafe.Pointer(&lin[0])))
}

// correctRow puts corrected sRGB in the place of a row's camera values, each as t's byte.
func (c *Colour) correctRow(bgr []uint8, t *encodedBytes) {
	if len(bgr) < 3 {
		return
	}
	tone, mix, root := c.forC()
	C.pt_leaf_correct((*C.uint8_t)(unsafe.Pointer(&bgr[0])), C.size_t(len(bgr)/3), tone, mix, root, (*C.uint8_t)(unsafe.Pointer(&t[0])), encodeSteps)
}

func (c *Colour) forC() (tone, mix *C.float, root C.int) {
	if c.Root {
		root = 1
	}
	return (*C.float)(unsafe.Pointer(&c.Tone[0][0])), (*C.float)(unsafe.Pointer(&c.Mix[0][0])), root
}

// encodedBytes are the bytes of an encodeTable.
type encodedBytes [encodeSteps + 2]uint8

func (t *encodeTable) bytes() *encodedBytes {
	var b encodedBytes
	for i, v := range t {
		b[i] = uint8(v + 0.5)
	}
	return &b
}
