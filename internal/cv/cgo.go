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
)

// ErrDecode says that OpenCV could not make a picture of the bytes.
var ErrDecode = errors.New("not decodable")

const errBytes = 400

type errBuf [errBytes]C.char

func (e *errBuf) wrap(base error) error { return fmt.Errorf("%w: %s", base, C.GoString(&e[0])) }

// Decode turns an encoded picture into pixels in the stored orientation (EXIF orientation is left to the caller).
// Grey becomes colour, 16 bit becomes 8, transparency is dropped. Errors: ErrDecode.
func Decode(data []byte) (raster.BGR, error) {
	mat, w, h, err := decode(data)
	if err != nil {
		return raster.BGR{}, err
	}
	out := raster.NewBGR(w, h)
	C.pt_mat_copy_free(mat, (*C.uint8_t)(unsafe.Pointer(&out.Pix[0])))
	return out, nil
}

// DecodeAlone decodes as Decode does and lets the picture go: what OpenCV's decoding costs by itself.
func DecodeAlone(data []byte) error {
	mat, _, _, err := decode(data)
	if err == nil {
		C.pt_mat_free(mat)
	}
	return err
}

func decode(data []byte) (mat unsafe.Pointer, w, h int, err error) {
	if len(data) == 0 {
		return nil, 0, 0, fmt.Errorf("%w: no bytes", ErrDecode)
	}
	var cw, ch C.int
	var e errBuf
	if C.pt_decode((*C.uint8_t)(unsafe.Pointer(&data[0])), C.size_t(len(data)), readColour|readIgnoreOrientation, &mat, &cw, &ch, &e[0], errBytes) != 0 {
		return nil, 0, 0, e.wrap(ErrDecode)
	}
	return mat, int(cw), int(ch), nil
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

// leastSide is the side in px of the smallest picture that is searched (chosen by eye).
const leastSide = 32

// lastMarker of the dictionary 36h11, which has 587 (Olson 2011, AprilTag).
const lastMarker = 586

// DetectMarkers finds 36h11 markers in a grey picture of w by h px, one byte a pixel. Several markers may carry the
// same id.
func DetectMarkers(gray []uint8, w, h int) ([]Marker, error) { return detectMarkers(gray, w, h, 0) }

// DetectSoftMarkers finds markers as DetectMarkers does, of a few px a cell that are soft or too bright: in the picture sharpened in linear light.
func DetectSoftMarkers(gray []uint8, w, h int) ([]Marker, error) { return detectMarkers(gray, w, h, 1) }

func detectMarkers(gray []uint8, w, h int, soft C.int) ([]Marker, error) {
	if w < leastSide || h < leastSide || len(gray) != w*h {
		return nil, fmt.Errorf("%w: picture of %d x %d px", ErrDetect, w, h)
	}
	var buf [maxMarkers]C.pt_marker
	var n C.int
	var e errBuf
	if C.pt_detect_36h11((*C.uint8_t)(unsafe.Pointer(&gray[0])), C.int(w), C.int(h), soft, &buf[0], maxMarkers, &n, &e[0], errBytes) != 0 {
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
	if id < 0 || id > lastMarker || cellPx < 1 {
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
