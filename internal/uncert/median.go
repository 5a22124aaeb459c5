package uncert

import (
	"math"
	"sort"
)

// DeviationOfMedian makes a standard deviation of the median absolute deviation: 1 / 0.6745, the third quartile of the normal distribution.
const DeviationOfMedian = 1.4826

// Median sorts values and gives their median, NaN for none.
func Median(v []float64) float64 {
	sort.Float64s(v)
	return MedianSorted(v)
}

// MedianSorted is Median of values that are sorted already.
func MedianSorted(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	return (v[(n-1)/2] + v[n/2]) / 2
}
