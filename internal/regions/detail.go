package regions

/*
#cgo CFLAGS: -O3 -std=c11
#include "detail.h"
*/
import "C"

import (
	"unsafe"

	"phototrack/internal/raster"
)

// strongest gives for each of w x h places the strongest difference of a pixel from its four neighbours, summed over them, in the
// photo's green channel reduced k times; then the same at half that size. The photo is read once, a few rows at a time: whole
// pictures of it would be the largest things in memory.
func strongest(photo raster.BGR, k, w, h int) []uint16 {
	out := make([]uint16, 2*w*h)
	if photo.W < k || photo.H < k || len(out) == 0 {
		return out
	}
	room := make([]uint8, C.pt_regions_detail_room(C.size_t(photo.W), C.size_t(k)))
	C.pt_regions_detail((*C.uint8_t)(unsafe.Pointer(&photo.Pix[0])), C.size_t(photo.W), C.size_t(photo.H), C.size_t(k), C.size_t(w), C.size_t(h),
		(*C.uint16_t)(unsafe.Pointer(&out[0])), (*C.uint16_t)(unsafe.Pointer(&out[w*h])), (*C.uint8_t)(unsafe.Pointer(&room[0])))
	return out
}
