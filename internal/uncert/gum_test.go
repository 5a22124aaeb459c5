package uncert

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
)

// The end-gauge calibration of JCGM 100:2008, H.1 (all figures from memory): the length of a gauge block of 50 mm by
// comparison with a standard, l = lS + d - lS (da th + aS dth).
func TestGUMEndGaugeCalibration(t *testing.T) {
	const lS, d = 50_000_623.0, 215.0 // nm
	const aS = 11.5e-6                // 1/degC
	const theta = -0.1                // degC from 20
	length := func(x [6]float64) float64 { return x[0] + x[1] - x[0]*(x[2]*x[3]+x[4]*x[5]) }
	at := [6]float64{lS, d, 0, theta, aS, 0}
	inputs := []struct {
		name string
		u    float64
		flat bool    // rectangular
		want float64 // its part of the standard uncertainty, nm: table H.1
	}{
		{"standard", 25, false, 25},
		{"comparison", 9.7, false, 9.7},
		{"difference of expansion", 0.58e-6, true, 2.9},
		{"temperature of the bed", 0.41, false, 0},
		{"expansion of the standard", 1.2e-6, true, 0},
		{"difference of temperature", 0.029, true, 16.6},
	}
	var terms []record.Term
	for i, in := range inputs {
		hi, lo := at, at
		hi[i], lo[i] = hi[i]+in.u, lo[i]-in.u
		part := math.Abs(length(hi)-length(lo)) / 2
		assert.InDelta(t, in.want, part, 0.1, in.name)
		if in.flat {
			terms = append(terms, Rectangular(in.name, part*math.Sqrt(3)))
		} else {
			terms = append(terms, Normal(in.name, part))
		}
	}
	assert.InDelta(t, 215+lS, length(at), 0.5, "l = 50.000 838 mm")
	assert.InDelta(t, 32, Standard(terms), 0.5, "combined standard uncertainty, nm")
	// H.1.7: the second-order terms lS u(da) u(th) = 11.7 nm and lS u(aS) u(dth) = 1.7 nm bring it to 34 nm.
	second := append(terms, Normal("second order", lS*0.58e-6*0.41), Normal("second order", lS*1.2e-6*0.029))
	assert.InDelta(t, 34, Standard(second), 0.5)
}
