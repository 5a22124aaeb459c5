package regions

/*
#cgo CFLAGS: -O3 -std=c11
#include "resample.h"
*/
import "C"

import (
	"math"
	"unsafe"

	"phototrack/internal/raster"
)

// Resample gives the picture in another size: each new pixel is the mean over the area it covers.
func Resample(p raster.BGR, w, h int) raster.BGR {
	out := raster.NewBGR(w, h)
	if w < 1 || h < 1 {
		return out
	}
	var from, count []C.int32_t
	var weight []uint32
	for _, s := range spans(p.W, w) {
		from, count, weight = append(from, C.int32_t(s.from)), append(count, C.int32_t(len(s.weight))), append(weight, s.weight...)
	}
	n := 3 * w
	sum, across := make([]uint32, n), make([]uint32, n)
	done := -1 // the row of p that across holds: one that two rows share is gone through once
	for y, s := range spans(p.H, h) {
		clear(sum)
		for j, wt := range s.weight {
			if at := s.from + j; at != done {
				done = at
				C.pt_regions_across((*C.uint8_t)(unsafe.Pointer(&p.Pix[3*at*p.W])), &from[0], &count[0], words(weight), C.size_t(w), words(across))
			}
			C.pt_regions_down(words(across), C.uint32_t(wt), C.size_t(n), words(sum))
		}
		C.pt_regions_bytes(words(sum), C.size_t(n), (*C.uint8_t)(unsafe.Pointer(&out.Pix[n*y])))
	}
	return out
}

func words(p []uint32) *C.uint32_t { return (*C.uint32_t)(unsafe.Pointer(&p[0])) }

type span struct {
	from   int
	weight []uint32 // of 4096
}

// spans are the pixels of n that each of m covers.
func spans(n, m int) []span {
	out := make([]span, m)
	r := float64(n) / float64(m)
	for i := range out {
		a, b := float64(i)*r, float64(i+1)*r
		from, to := int(a), min(n, int(math.Ceil(b-1e-9)))
		s := span{from: from, weight: make([]uint32, max(1, to-from))}
		left := uint32(1 << 12)
		for j := range s.weight {
			part := math.Min(b, float64(from+j+1)) - math.Max(a, float64(from+j))
			s.weight[j] = min(left, uint32(math.Round(part/r*(1<<12))))
			left -= s.weight[j]
		}
		s.weight[len(s.weight)/2] += left
		out[i] = s
	}
	return out
}
