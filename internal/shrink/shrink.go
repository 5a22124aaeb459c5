// Package shrink makes smaller copies of a picture, each pixel the mean of those it stands for in the encoded values (the
// eye's scale). Every photo is read through by it three times, tens of megabytes each: the loops are in C, where a compiler
// makes vector code of them; what they must give is told in Go, slowly, in the tests.
package shrink

/*
#cgo CFLAGS: -O3
#include "sums.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"unsafe"

	"phototrack/internal/raster"
)

// ErrSize says that a picture has no pixels, fewer than its size says, or none left after shrinking.
var ErrSize = errors.New("picture of no usable size")

// maxBlock is the side of the largest block whose bytes add up to no more than 16 bits hold; maxColumn that of the largest
// one of which a single column does.
const (
	maxBlock  = 16
	maxColumn = 257
)

func check(img raster.BGR, k int) error {
	if k < 1 || k > maxColumn || img.W < k || img.H < k || len(img.Pix) < 3*img.W*img.H {
		return fmt.Errorf("%w: %d x %d px, %d bytes, reduced by %d", ErrSize, img.W, img.H, len(img.Pix), k)
	}
	return nil
}

func bytes(p []uint8) *C.uint8_t { return (*C.uint8_t)(unsafe.Pointer(&p[0])) }

func sums(n int) *C.uint16_t { return (*C.uint16_t)(unsafe.Pointer(&make([]uint16, n+C.PT_SLACK)[0])) }

// Blocks averages k by k px (k up to 257), rounded to the nearest; columns and rows that fill no block are left out. The centre of
// pixel u lies at k u + (k-1)/2. Errors: ErrSize.
func Blocks(img raster.BGR, k int) (raster.BGR, error) {
	if err := check(img, k); err != nil {
		return raster.BGR{}, err
	}
	out := raster.NewBGR(img.W/k, img.H/k)
	if k == 1 {
		copy(out.Pix, img.Pix)
		return out, nil
	}
	if k > maxBlock {
		spread(img, out, steps(out.W, k), steps(out.H, k))
		return out, nil
	}
	C.pt_shrink_blocks(bytes(img.Pix), C.size_t(img.W), C.int(k), bytes(out.Pix), C.size_t(out.W), C.size_t(out.H), sums(3*out.W*k))
	return out, nil
}

// Green is Blocks of the green channel alone, one byte a pixel. Halves are rounded as OpenCV's resize rounds them when it averages areas: up
// for blocks of 2 by 2, else to the even value. Errors: ErrSize.
func Green(img raster.BGR, k int) (gray []uint8, w, h int, err error) {
	if err := check(img, k); err != nil {
		return nil, 0, 0, err
	}
	w, h = img.W/k, img.H/k
	gray = make([]uint8, w*h)
	mean := means(k)
	C.pt_shrink_green(bytes(img.Pix), C.size_t(img.W), C.int(k), bytes(gray), C.size_t(w), C.size_t(h), sums(3*w*k), bytes(mean))
	return gray, w, h, nil
}

// means is the mean of k*k bytes by their sum.
func means(k int) []uint8 {
	t := make([]uint8, 255*k*k+1)
	scale := float32(1) / float32(k*k)
	for s := range t {
		if k == 2 {
			t[s] = uint8((s + 2) >> 2)
		} else {
			t[s] = uint8(math.RoundToEven(float64(float32(s) * scale)))
		}
	}
	return t
}

// To makes a copy whose longer side is at most longPx, each pixel the mean of the area it stands for: source pixels are dealt
// out in runs of nearly equal length, none is cut.
func To(img raster.BGR, longPx int) raster.BGR {
	long := max(img.W, img.H)
	if long <= longPx {
		out := raster.NewBGR(img.W, img.H)
		copy(out.Pix, img.Pix)
		return out
	}
	out := raster.NewBGR(max(1, img.W*longPx/long), max(1, img.H*longPx/long))
	spread(img, out, spans(img.W, out.W), spans(img.H, out.H))
	return out
}

// spread makes each pixel of out the mean of those between its columns and rows.
func spread(img, out raster.BGR, xs, ys []int32) {
	acc := make([]uint32, 3*out.W)
	C.pt_shrink_spans(bytes(img.Pix), C.size_t(img.W), (*C.int32_t)(unsafe.Pointer(&xs[0])), (*C.int32_t)(unsafe.Pointer(&ys[0])),
		bytes(out.Pix), C.size_t(out.W), C.size_t(out.H), sums(3*img.W), (*C.uint32_t)(unsafe.Pointer(&acc[0])))
}

// steps are the borders of m runs of k px.
func steps(m, k int) []int32 {
	out := make([]int32, m+1)
	for i := range out {
		out[i] = int32(i * k)
	}
	return out
}

// spans divides n source pixels into m runs of nearly equal length.
func spans(n, m int) []int32 {
	out := make([]int32, m+1)
	for i := range out {
		out[i] = int32(i * n / m)
	}
	return out
}
