package change

import (
	"math"
	"sort"
	"sync"

	"phototrack/internal/uncert"
)

// Slopes are the sorted slopes between all pairs of points, the stuff of the Theil-Sen estimate. Pairs at the same
// time have none and are left out.
func Slopes(t, y []float64) []float64 {
	out := make([]float64, 0, len(t)*(len(t)-1)/2)
	for i := range t {
		for j := i + 1; j < len(t); j++ {
			if t[i] != t[j] {
				out = append(out, (y[j]-y[i])/(t[j]-t[i]))
			}
		}
	}
	sort.Float64s(out)
	return out
}

// TheilSen is the median of the slopes between all pairs of points (Theil 1950; Sen 1968), in units of y per unit of t.
// NaN for fewer than two times.
func TheilSen(t, y []float64) float64 { return uncert.MedianSorted(Slopes(t, y)) }

// intervalOf finds the ranks for sorted slopes and the null distribution of their number of points.
func intervalOf(slopes, null []float64, level float64) (low, high, reached float64) {
	if len(slopes) == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	pairs := len(null) - 1
	// With k slopes cut off at each end the interval misses where S >= pairs - 2k or beyond on the other side.
	k, tail := 0, null[pairs]
	for k+1 < len(slopes)/2 {
		next := tail + null[pairs-k-1]
		if 1-2*next < level {
			break
		}
		k, tail = k+1, next
	}
	return slopes[k], slopes[len(slopes)-1-k], 1 - 2*tail
}

// nulls keeps the null distributions, and the quantiles of Student's t, that an analysis needs again and again.
type nulls struct {
	mu    sync.Mutex
	found map[int][]float64
	t     map[int]float64
}

func (k *nulls) of(n int) []float64 {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.found[n] == nil {
		if k.found == nil {
			k.found = map[int][]float64{}
		}
		k.found[n] = kendallNull(n)
	}
	return k.found[n]
}

// tQuantile is that of a whole number of degrees of freedom.
func (k *nulls) tQuantile(df int) float64 {
	k.mu.Lock()
	defer k.mu.Unlock()
	q, ok := k.t[df]
	if !ok {
		if k.t == nil {
			k.t = map[int]float64{}
		}
		q = tQuantile(float64(df))
		k.t[df] = q
	}
	return q
}

// kendallNull gives the probability of each number of concordant pairs among n untied values in random order: entry i
// is that of i concordant pairs, S = 2 i - n(n-1)/2. Built by inserting one value after another, which adds a uniform
// number of 0..k-1 pairs (Kendall 1938).
func kendallNull(n int) []float64 {
	p := []float64{1}
	for k := 2; k <= n; k++ {
		q := make([]float64, len(p)+k-1)
		run := 0.0
		for i := range q {
			if i < len(p) {
				run += p[i]
			}
			if i >= k {
				run -= p[i-k]
			}
			q[i] = math.Max(run, 0) / float64(k)
		}
		p = q
	}
	return p
}
