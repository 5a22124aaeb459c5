package root

import (
	"math"
	"sort"
)

// quantile is the q-quantile (0..1) of v by linear interpolation; NaN of nothing. v is not changed.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	k := q * float64(len(s)-1)
	i := int(k)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	f := k - float64(i)
	return s[i]*(1-f) + s[i+1]*f
}
