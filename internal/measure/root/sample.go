package root

/*
#cgo CFLAGS: -O3 -std=c11
#include "sample.h"
*/
import "C"

import (
	"unsafe"

	"phototrack/internal/raster"
)

// places are places of a photo whose colours are looked up together, a row of a view at a time.
type places struct {
	img    raster.BGR
	n      int          // places there are
	column []int        // whatever the caller knows a place by
	uv     [][2]float64 // px
	a      [][4]float32
	grey   []float32
}

// newPlaces has room for so many places.
func newPlaces(img raster.BGR, room int) *places {
	return &places{img: img, column: make([]int, room), uv: make([][2]float64, room), a: make([][4]float32, room), grey: make([]float32, room)}
}

func (p *places) clear() { p.n = 0 }

func (p *places) add(column int, u, v float64) {
	p.column[p.n], p.uv[p.n] = column, [2]float64{u, v}
	p.n++
}

// columns are what the caller knows the places by.
func (p *places) columns() []int { return p.column[:p.n] }

// sample gives blue, green and red, 0..255, of each place, or, where fine is not 0, the mean of two samples fine px away along the
// diagonal. The colours hold until the next call.
func (p *places) sample(fine float64) [][4]float32 {
	out := p.a[:p.n]
	if len(out) > 0 && p.img.W >= 2 && p.img.H >= 2 {
		C.pt_root_bilinear((*C.uint8_t)(unsafe.Pointer(&p.img.Pix[0])), C.int(p.img.W), C.int(p.img.H),
			(*C.double)(unsafe.Pointer(&p.uv[0])), C.size_t(p.n), C.double(fine), (*C.float)(unsafe.Pointer(&out[0])))
	}
	return out
}

// greys gives the brightness, 0..255, of each place and the one a pixel farther along the diagonal. It holds until the next call.
func (p *places) greys() []float32 {
	out := p.grey[:p.n]
	if len(out) > 0 && p.img.W >= 2 && p.img.H >= 2 {
		C.pt_root_grey((*C.uint8_t)(unsafe.Pointer(&p.img.Pix[0])), C.int(p.img.W), C.int(p.img.H),
			(*C.double)(unsafe.Pointer(&p.uv[0])), C.size_t(p.n), (*C.float)(unsafe.Pointer(&out[0])))
	}
	return out
}

// lab turns colours into CIELAB by interpolation in the table.
func (p *places) lab(c *labCube, colours [][4]float32) {
	if len(colours) > 0 {
		v := (*C.float)(unsafe.Pointer(&colours[0]))
		C.pt_root_lab((*C.float)(unsafe.Pointer(&c.v[0])), cubeSide, 1.0/15, v, C.size_t(len(colours)), v)
	}
}

func bilinear(img raster.BGR, u, v float64) (b, g, r float32) {
	x, y := min(max(int(u), 0), img.W-2), min(max(int(v), 0), img.H-2)
	fx, fy := float32(u-float64(x)), float32(v-float64(y))
	i := 3 * (y*img.W + x)
	j := i + 3*img.W
	p, q := img.Pix[i:i+6:i+6], img.Pix[j:j+6:j+6]
	b0, b1 := float32(p[0]), float32(q[0])
	g0, g1 := float32(p[1]), float32(q[1])
	r0, r1 := float32(p[2]), float32(q[2])
	b0, b1 = b0+fx*(float32(p[3])-b0), b1+fx*(float32(q[3])-b1)
	g0, g1 = g0+fx*(float32(p[4])-g0), g1+fx*(float32(q[4])-g1)
	r0, r1 = r0+fx*(float32(p[5])-r0), r1+fx*(float32(q[5])-r1)
	return b0 + fy*(b1-b0), g0 + fy*(g1-g0), r0 + fy*(r1-r0)
}
