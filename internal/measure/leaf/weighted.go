package leaf

import (
	"math"
	"slices"
)

// weightedQuantiles gives the quantiles of values with weights: where the running weight, counted to the middle of each
// value's own, passes the fraction, with linear interpolation. NaN where there is no weight.
func weightedQuantiles(v, w []float64, q ...float64) []float64 {
	out := make([]float64, len(q))
	idx := make([]int, len(v))
	sum := 0.0
	for i := range v {
		idx[i] = i
		sum += w[i]
	}
	if sum <= 0 {
		for i := range out {
			out[i] = math.NaN()
		}
		return out
	}
	slices.SortStableFunc(idx, func(a, b int) int {
		switch {
		case v[a] < v[b]:
			return -1
		case v[a] > v[b]:
			return 1
		}
		return 0
	})
	for k, f := range q {
		run, lastV, lastP := 0.0, v[idx[0]], 0.0
		out[k] = v[idx[len(idx)-1]]
		for n, i := range idx {
			p := (run + w[i]/2) / sum
			run += w[i]
			if p >= f {
				out[k] = v[i]
				if n > 0 && p > lastP {
					out[k] = lastV + (v[i]-lastV)*(f-lastP)/(p-lastP)
				}
				break
			}
			lastV, lastP = v[i], p
		}
	}
	return out
}
