package regions

/*
#cgo CFLAGS: -O3 -std=c11
#include "recolour.h"
*/
import "C"

import (
	"math"
	"unsafe"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

// Purpled is the view with purple and red-purple shown as green of the same lightness, and which places that changed; ok is
// false where too little of it is anything but sure leaf in seen, the first look. Leaves may be of any colour, but purple margins and patches are rare in training, so that
// the network tends to take them for pots and cloth; their shape and texture it knows.
func (v View) Purpled(seen *Map) (out View, changed []bool, ok bool) {
	n := v.W * v.H
	changed = make([]bool, n)
	if n == 0 {
		return View{}, nil, false
	}
	maybe := make([]uint8, n) // not the card's patches, nor the tag
	C.pt_regions_maybe_purple((*C.uint8_t)(unsafe.Pointer(&v.Pix[0])), C.size_t(n), leastOverGreen, mostUnderGreen, (*C.uint8_t)(unsafe.Pointer(&maybe[0])))
	count := 0
	for i := raster.NextSet(maybe, 0); i < n; i = raster.NextSet(maybe, i+1) {
		if isPurple(v.meanColour(i)) {
			changed[i] = true
			if seen.P[Leaf][2*(i/v.W)*seen.W+2*(i%v.W)] < sureLeaf {
				count++
			}
		}
	}
	if float64(count) < leastPurple*float64(n) {
		return View{}, nil, false
	}
	out = View{W: v.W, H: v.H, Pix: append([]uint8(nil), v.Pix...)}
	for i, on := range changed {
		if !on {
			continue
		}
		for s := range 4 {
			at := func(c int) *uint8 { return &out.Pix[(3*s+c)*n+i] }
			r, g, b := float64(*at(0)), float64(*at(1)), float64(*at(2))
			light := 0.3*r + 0.6*g + 0.1*b
			*at(0), *at(1), *at(2) = byteOf(0.85*light), byteOf(1.12*light+3), byteOf(0.6*light)
		}
	}
	return out, changed, true
}

// meanColour is that of a place's four pixels.
func (v View) meanColour(i int) (r, g, b int) {
	n := v.W * v.H
	var sum [3]int
	for s := range 4 {
		for c := range 3 {
			sum[c] += int(v.Pix[(3*s+c)*n+i])
		}
	}
	return sum[0] / 4, sum[1] / 4, sum[2] / 4
}

// sureLeaf is the probability from which purple needs no further look.
const sureLeaf = 0.9

// leastPurple is the share of the places from which a further look is worth its time.
const leastPurple = 0.0005

func byteOf(x float64) uint8 { return uint8(max(0, min(math.MaxUint8, x+0.5))) }

const (
	leastPurpleChroma              = 9.0
	purpleFromDeg, purpleToDeg     = 270.0, 32.0
	leastOverGreen, mostUnderGreen = 8, 10 // of 255: no purple has less red or blue than this, which spares the conversion of all else
)

// isPurple says whether a colour is of the class purple: hue from purpleFromDeg over 0 to purpleToDeg, with a chroma that can be seen.
func isPurple(r, g, b int) bool {
	lab := colour.FromSRGB8(uint8(r), uint8(g), uint8(b)).Lab()
	h := lab.HueDeg()
	return lab.Chroma() > leastPurpleChroma && (h >= purpleFromDeg || h < purpleToDeg)
}
