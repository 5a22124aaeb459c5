package leaf

import "math"

const quantileBins = 4096

// weightedQuantiles gives the quantiles of values with weights, from a histogram of 4096 steps between the least and
// the greatest value with interpolation within a step. NaN where there is no weight.
func weightedQuantiles(v, w []float64, q ...float64) []float64 {
	out := make([]float64, len(q))
	lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
	for i, x := range v {
		lo, hi, sum = min(lo, x), max(hi, x), sum+w[i]
	}
	if !(sum > 0) {
		for i := range out {
			out[i] = math.NaN()
		}
		return out
	}
	if hi == lo {
		for i := range out {
			out[i] = lo
		}
		return out
	}
	var bins [quantileBins]float64
	scale := quantileBins / (hi - lo)
	for i, x := range v {
		bins[min(quantileBins-1, int((x-lo)*scale))] += w[i]
	}
	for k, f := range q {
		run := 0.0
		out[k] = hi
		for b, n := range bins {
			if n > 0 && run+n >= f*sum {
				out[k] = lo + (float64(b)+(f*sum-run)/n)/scale
				break
			}
			run += n
		}
	}
	return out
}
