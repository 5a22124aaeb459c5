package change

import (
	"math"
)

// Published statistics by which the tests hold what the analysis uses against tables and other programs.

// MannKendall tests for a monotone trend (Mann 1945; Kendall 1975). y is in order of time, times all different. The p
// is exact by the permutation distribution given the ties (each tied group counts as it is), up to maxExact values;
// beyond that the normal approximation with continuity and tie correction.
func MannKendall(y []float64) Kendall { return mannKendall(y, &nulls{}) }

// kendallVariance also corrects for tied times, as the normal interval of the slope does.
func kendallVariance(t, y []float64) float64 {
	f := func(k int) float64 { return float64(k*(k-1)) * float64(2*k+5) }
	v := f(len(t))
	for _, g := range tieSizes(t) {
		v -= f(g)
	}
	for _, g := range tieSizes(y) {
		v -= f(g)
	}
	return v / 18
}

// SlopeInterval is the distribution-free interval of the Theil-Sen slope (Sen 1968): the sorted slopes between two
// symmetric ranks, chosen by the exact null distribution of Kendall's S so that the level is the smallest one not
// under the level asked for. The level that is reached is returned, because for 5 and 6 points only a few are possible.
// Under 5 points low, high and reached are NaN: even the widest interval of 4 points reaches 92 % only.
func SlopeInterval(t, y []float64, level float64) (low, high, reached float64) {
	if len(t) < 5 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return intervalOf(Slopes(t, y), kendallNull(len(t)), level)
}

// SlopeIntervalNormal is the same interval by the normal approximation with tie correction and with the ranks rounded
// as in SciPy 1.10 (halves to even); z is the normal quantile, 1.96 for 95 %. It serves the comparison with
// other programs; trends use the exact ranks.
func SlopeIntervalNormal(t, y []float64, z float64) (low, high float64) {
	slopes := Slopes(t, y)
	if len(slopes) == 0 {
		return math.NaN(), math.NaN()
	}
	k := z * math.Sqrt(kendallVariance(t, y))
	n := float64(len(slopes))
	lo := int(math.RoundToEven((n-k)/2)) - 1
	hi := int(math.RoundToEven((n + k) / 2))
	return slopes[max(lo, 0)], slopes[min(hi, len(slopes)-1)]
}

// SignFlipP is the exact two-sided p that paired differences are zero on average: the share of all ways to give them
// signs whose sum is at least as far from zero (Fisher 1935, on Darwin's plants). NaN for none or more than 20.
func SignFlipP(d []float64) float64 {
	if len(d) == 0 || len(d) > 20 {
		return math.NaN()
	}
	observed, scale := 0.0, 0.0
	for _, v := range d {
		observed += v
		scale += math.Abs(v)
	}
	limit := math.Abs(observed) - 1e-12*scale
	hits := 0
	for mask := range 1 << len(d) {
		s := 0.0
		for i, v := range d {
			if mask>>i&1 == 1 {
				s -= v
			} else {
				s += v
			}
		}
		if math.Abs(s) >= limit {
			hits++
		}
	}
	return float64(hits) / float64(int(1)<<len(d))
}

// GrowthRate is the relative growth rate between two sizes, (ln w2 - ln w1)/(t2 - t1) (Hunt 1982). NaN where a size is
// not above zero.
func GrowthRate(t1, w1, t2, w2 float64) float64 {
	if !(w1 > 0 && w2 > 0) || t1 == t2 {
		return math.NaN()
	}
	return (math.Log(w2) - math.Log(w1)) / (t2 - t1)
}
