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

const encodeSteps = 4096

// encodeTable is the sRGB encoding (IEC 61966-2-1) over 0..1 in 4096 steps of the square root of light, 0..255: within
// 0.02 of the formula.
type encodeTable [encodeSteps + 2]float32

func newEncodeTable() *encodeTable {
	var t encodeTable
	for i := range t {
		r := float64(i) / encodeSteps
		t[i] = float32(255 * colour.Encode(r*r))
	}
	return &t
}

func (t *encodeTable) at(l float64) float64 {
	r := math.Sqrt(max(0, min(1, l))) * encodeSteps
	i := int(r)
	return float64(t[i] + float32(r-float64(i))*(t[i+1]-t[i]))
}
