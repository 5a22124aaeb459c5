package cv

/*
#cgo pkg-config: opencv4
#cgo CXXFLAGS: -std=c++11 -O2
#cgo LDFLAGS: -lopencv_aruco -lopencv_imgcodecs -lopencv_imgproc -lopencv_core
#include <stdlib.h>
#include "shim.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"unsafe"

	"phototrack/internal/raster"
)

// Flags of OpenCV's imdecode (imgcodecs.hpp, cv::ImreadModes).
const (
	readColour            = 1
	readIgnoreOrientation = 128
	readHalf              = 17 // IMREAD_REDUCED_COLOR_2
)

// ErrDecode says that OpenCV could not make a picture of the bytes.
var ErrDecode = errors.New("not decodable")

const errBytes = 400

type errBuf [errBytes]C.char

func (e *errBuf) wrap(base error) error { return fmt.Errorf("%w: %s", base, C.GoString(&e[0])) }

// Decode turns an encoded picture into pixels in the stored orientation (EXIF orientation is left to the caller).
// Grey becomes colour, 16 bit becomes 8, transparency is dropped. Errors: ErrDecode.
func Decode(data []byte) (raster.BGR, error) { return decode(data, readColour|readIgnoreOrientation) }

// DecodeHalf is Decode at half the width and height, which a JPEG decoder does at less than half the cost.
func DecodeHalf(data []byte) (raster.BGR, error) { return decode(data, readHalf|readIgnoreOrientation) }

func decode(data []byte, flags int) (raster.BGR, error) {
	if len(data) == 0 {
		return raster.BGR{}, fmt.Errorf("%w: no bytes", ErrDecode)
	}
	var mat unsafe.Pointer
	var w, h C.int
	var e errBuf
	if C.pt_decode((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)), C.int(flags), &mat, &w, &h, &e[0], errBytes) != 0 {
		return raster.BGR{}, e.wrap(ErrDecode)
	}
	out := raster.NewBGR(int(w), int(h))
	C.pt_mat_copy_free(mat, (*C.uint8_t)(unsafe.Pointer(&out.Pix[0])))
	return out, nil
}

// DecodeInto decodes straight into dst, whose size must be that of the stored picture: no copy is made. Where the
// bytes turn out to have another size, or no picture, the error is ErrDecode and dst holds nothing of use.
func DecodeInto(data []byte, dst raster.BGR) error {
	if len(data) == 0 || dst.W < 1 || dst.H < 1 || len(dst.Pix) != 3*dst.W*dst.H {
		return fmt.Errorf("%w: no bytes, or no room", ErrDecode)
	}
	var e errBuf
	if C.pt_decode_into((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)), readColour|readIgnoreOrientation,
		(*C.uint8_t)(unsafe.Pointer(&dst.Pix[0])), C.int(dst.W), C.int(dst.H), &e[0], errBytes) != 0 {
		return e.wrap(ErrDecode)
	}
	return nil
}

// Marker is a square marker as it was detected: its id and its corners in px of the picture searched (pixel centres
// at whole numbers), top left, top right, bottom right, bottom left as printed. The corners are good to about a pixel.
type Marker struct {
	ID      int
	Corners [4][2]float64
}

// ErrDetect says that the detector failed; finding no marker is no error.
var ErrDetect = errors.New("marker detection failed")

const maxMarkers = 64

// DetectMarkers finds 36h11 markers in a grey picture of w by h px, one byte a pixel. Several markers may carry the
// same id.
func DetectMarkers(gray []uint8, w, h int) ([]Marker, error) {
	if w < 32 || h < 32 || len(gray) != w*h {
		return nil, fmt.Errorf("%w: picture of %d x %d px", ErrDetect, w, h)
	}
	var buf [maxMarkers]C.pt_marker
	var n C.int
	var e errBuf
	if C.pt_detect_36h11((*C.uint8_t)(unsafe.Pointer(&gray[0])), C.int(w), C.int(h), &buf[0], maxMarkers, &n, &e[0], errBytes) != 0 {
		return nil, e.wrap(ErrDetect)
	}
	out := make([]Marker, n)
	for i := range out {
		out[i].ID = int(buf[i].id)
		for c := range 4 {
			out[i].Corners[c] = [2]float64{float64(buf[i].corners[2*c]), float64(buf[i].corners[2*c+1])}
		}
	}
	return out, nil
}

// DrawMarker draws marker id (0..586) of the 36h11 dictionary, cellPx px a cell, 8 cells a side with the black
// border: one byte a pixel, 0 black, 255 white.
func DrawMarker(id, cellPx int) (raster.Mask, error) {
	if id < 0 || id > 586 || cellPx < 1 {
		return raster.Mask{}, fmt.Errorf("no marker %d of %d px a cell", id, cellPx)
	}
	out := raster.NewMask(8*cellPx, 8*cellPx)
	var e errBuf
	if C.pt_draw_36h11(C.int(id), C.int(cellPx), (*C.uint8_t)(unsafe.Pointer(&out.Pix[0])), &e[0], errBytes) != 0 {
		return raster.Mask{}, e.wrap(errors.New("marker not drawn"))
	}
	return out, nil
}

// SetThreads limits OpenCV's own threads. One is right for a worker: the photos are the parallel unit.
func SetThreads(n int) { C.pt_set_threads(C.int(n)) }
