package leaf

import (
	"math"

	"phototrack/internal/colour"
)

func sqrt32(x float32) float32 {
	if x <= 0 {
		return 0
	}
	return float32(math.Sqrt(float64(x)))
}

// The cube root of CIELAB from a table: 4096 steps over 0..1.5 with linear interpolation are within 0.02 of L* above
// L* = 8, far below a photo's noise, and an order of magnitude faster than the function.
const (
	labSteps = 4096
	labTop   = 1.5
)

type labTable [labSteps + 2]float32

func newLabTable() *labTable {
	var t labTable
	for i := range t {
		x := float64(i) * labTop / labSteps
		if x > 216.0/24389.0 {
			t[i] = float32(math.Cbrt(x))
		} else {
			t[i] = float32((24389.0/27.0*x + 16) / 116)
		}
	}
	return &t
}

func (t *labTable) f(x float32) float32 {
	if x <= 0 {
		return 16.0 / 116 // darker than black: rounding of the correction
	}
	x *= labSteps / labTop
	if x >= labSteps {
		x = labSteps
	}
	i := int(x)
	return t[i] + (x-float32(i))*(t[i+1]-t[i])
}

// lab gives CIELAB (D65) of linear sRGB, with the matrix and white of package colour.
func (t *labTable) lab(r, g, b float32) (L, A, B float32) {
	x := t.f((0.412453*r + 0.357580*g + 0.180423*b) * (1 / 0.95047))
	y := t.f(0.212671*r + 0.715160*g + 0.072169*b)
	z := t.f((0.019334*r + 0.119193*g + 0.950227*b) * (1 / 1.08883))
	return 116*y - 16, 500 * (x - y), 200 * (y - z)
}

func abs32(x float32) float32 {
	if x < 0 {
		return -x
	}
	return x
}

// encodeTable is the sRGB encoding (IEC 61966-2-1) over 0..1 in 4096 steps of the square root of light, 0..255: within
// 0.02 of the formula.
type encodeTable [labSteps + 2]float32

func newEncodeTable() *encodeTable {
	var t encodeTable
	for i := range t {
		r := float64(i) / labSteps
		t[i] = float32(255 * colour.Encode(r*r))
	}
	return &t
}

func (t *encodeTable) at(l float64) float64 {
	r := math.Sqrt(max(0, min(1, l))) * labSteps
	i := int(r)
	return float64(t[i] + float32(r-float64(i))*(t[i+1]-t[i]))
}
