// Package pixels holds the inner loops of comparison plates, in C that works on several numbers at a time: what takes a
// second a plate in Go takes a fraction of it here. Each has a slow and plain counterpart in Go among the tests, of this
// package or of package plate, that it is compared with.
package pixels

/*
#cgo CFLAGS: -O3
#cgo LDFLAGS: -lm
#include "pixels.h"
*/
import "C"

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"unsafe"
)

// Light is a fall-off that is to be taken out of a picture: a plane of the logarithm of light over the card, kept at the
// value of the card's nearest edge beyond it.
type Light struct {
	ToMM         [9]float64 // px of the picture -> mm on the card
	Across, Down float64    // the card's size, mm
	U, V         float64    // the plane's slope, per hundred mm
}

// Alike says which neighbours of a pixel count as alike: Steps to each side, by less than so much brightness and colour
// (Cb and Cr of ITU-T T.871), in 1/Fine of a level. Colour is taken as no more than keeps sums over all steps within 16 bits:
// 30 levels with the most steps.
type Alike struct{ Steps, Luma, Colour int }

// Fine is the fixed-point form of one level, and MostSteps how many steps Alike may have.
const (
	Fine      = C.FINE
	MostSteps = C.MOST
)

// Even gives a picture in which each pixel has the mean colour of those alike, along rows and then along columns, at its
// own brightness, and out of which a light is taken (none where nil). Values between two levels are spread over both by
// an ordered pattern. Every other pixel is looked at: JPEG's colour has half the resolution.
func Even(m *image.NRGBA, a Alike, light *Light) *image.NRGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := New(w, h)
	if w < 1 || h < 1 {
		return out
	}
	a.Steps = min(a.Steps, MostSteps)
	a.Colour = min(a.Colour, math.MaxInt16/(2*a.Steps+1))
	l := C.pt_light{even: 1}
	if light != nil {
		l = C.pt_light{across: C.double(light.Across), down: C.double(light.Down), u: C.double(light.U), v: C.double(light.V)}
		for i, v := range light.ToMM {
			l.mm[i] = C.double(v)
		}
	}
	if C.pt_even(first(m.Pix), C.int(m.Stride), first(out.Pix), C.int(out.Stride), C.int(w), C.int(h), C.int(a.Steps), C.int(a.Luma), C.int(a.Colour),
		&l) != 0 {
		panic(noMemory)
	}
	return out
}

// noMemory is what Go's own allocations end with too.
const noMemory = "out of memory"

// Grid is a raster of W x H points on a plane: point (x, y) lies at (X0 + x Pitch, Y0 + y Pitch).
type Grid struct {
	W, H          int
	X0, Y0, Pitch float64
}

// Rectify gives a picture of the grid's size whose pixels are the source's at the homography to of the grid's points,
// bilinear between pixel centres, and the colour outside where the source ends.
func Rectify(m *image.NRGBA, to [9]float64, g Grid, outside color.NRGBA) *image.NRGBA {
	out := New(g.W, g.H)
	if g.W < 1 || g.H < 1 {
		return out
	}
	if m.Rect.Empty() {
		draw.Draw(out, out.Rect, image.NewUniform(outside), image.Point{}, draw.Src)
		return out
	}
	ground := [4]uint8{outside.R, outside.G, outside.B, outside.A}
	if C.pt_rectify(first(m.Pix), C.int(m.Stride), C.int(m.Rect.Dx()), C.int(m.Rect.Dy()), first(out.Pix), C.int(out.Stride), C.int(g.W), C.int(g.H),
		(*C.double)(&to[0]), C.double(g.X0), C.double(g.Y0), C.double(g.Pitch), (*C.uint8_t)(&ground[0])) != 0 {
		panic(noMemory)
	}
	return out
}

// Reduce gives a picture without transparency at a smaller size by a Lanczos filter (three lobes). It is what
// imaging.Resize gives, up to rounding.
func Reduce(m *image.NRGBA, w, h int) *image.NRGBA { return reduce(m, w, h, 3, lanczos) }

// Mean is Reduce by means of equal weight.
func Mean(m *image.NRGBA, w, h int) *image.NRGBA { return reduce(m, w, h, 0.5, box) }

func reduce(m *image.NRGBA, w, h int, support float64, kernel func(float64) float64) *image.NRGBA {
	out := New(w, h)
	sw, sh := m.Rect.Dx(), m.Rect.Dy()
	if w < 1 || h < 1 || sw < 1 || sh < 1 {
		return image.NewNRGBA(out.Rect)
	}
	x, y := weights(w, sw, support, kernel), weights(h, sh, support, kernel)
	if C.pt_reduce(first(m.Pix), C.int(m.Stride), C.int(sw), C.int(sh), first(out.Pix), C.int(out.Stride), C.int(w), C.int(h),
		(*C.float)(&x.weight[0]), (*C.int)(&x.from[0]), (*C.int)(&x.n[0]), C.int(x.most),
		(*C.float)(&y.weight[0]), (*C.int)(&y.from[0]), (*C.int)(&y.n[0]), C.int(y.most)) != 0 {
		panic(noMemory)
	}
	return out
}

// PNGRows gives the rows of an opaque picture as PNG packs them: the number of the filter that suits a row, then its three
// bytes a pixel, filtered (PNG Specification, third edition, 9).
func PNGRows(m *image.NRGBA) []uint8 {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	if w < 1 || h < 1 {
		return nil
	}
	out := make([]uint8, (3*w+1)*h)
	if C.pt_png(first(m.Pix), C.int(m.Stride), C.int(w), C.int(h), first(out)) != 0 {
		panic(noMemory)
	}
	return out
}

// taps are the weights of a reduction along one side: those of pixel i stand from i times most, for the n[i] source pixels
// after from[i].
type taps struct {
	weight  []float32
	from, n []int32
	most    int
}

// weights gives those for n pixels out of source ones, of a filter that is 0 beyond its support.
func weights(n, source int, support float64, kernel func(float64) float64) taps {
	step := float64(source) / float64(n)
	wide := max(step, 1)
	reach := math.Ceil(support * wide)
	t := taps{from: make([]int32, n), n: make([]int32, n), most: 2*int(reach) + 1}
	t.weight = make([]float32, n*t.most)
	for i := range n {
		mid := (float64(i)+0.5)*step - 0.5
		from, to := max(int(math.Ceil(mid-reach)), 0), min(int(math.Floor(mid+reach)), source-1)
		t.from[i], t.n[i] = int32(from), int32(to-from+1)
		sum := 0.0
		for u := from; u <= to; u++ {
			sum += kernel((float64(u) - mid) / wide)
		}
		for u := from; u <= to; u++ {
			t.weight[i*t.most+u-from] = float32(kernel((float64(u)-mid)/wide) / sum)
		}
	}
	return t
}

func box(x float64) float64 {
	if math.Abs(x) <= 0.5 {
		return 1
	}
	return 0
}

// lanczos is a window of three lobes on the sine cardinal.
func lanczos(x float64) float64 {
	const lobes = 3
	x = math.Abs(x)
	switch {
	case x >= lobes:
		return 0
	case x == 0:
		return 1
	}
	return 3 * math.Sin(math.Pi*x) * math.Sin(math.Pi*x/3) / (math.Pi * math.Pi * x * x)
}

func first(p []uint8) *C.uint8_t { return (*C.uint8_t)(unsafe.Pointer(&p[0])) }
