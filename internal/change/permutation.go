package change

import "math"

// maxArrangements bounds the exact permutation test: about a tenth of a second.
const maxArrangements = 2_000_000

// PermutationP is the exact two-sided p of the difference of means of two samples: the share of all ways to part the
// values into groups of these sizes whose means differ at least as much, the observed one included (Fisher 1935). It
// returns the smallest p that these sizes can reach as well. Both are NaN where there are too many arrangements, or a
// sample is empty, or there are two values in all, which can show nothing.
func PermutationP(x, y []float64) (p, smallest float64) {
	nx, n := len(x), len(x)+len(y)
	count := choose(n, nx)
	if nx == 0 || len(y) == 0 || n <= 2 || count > maxArrangements {
		return math.NaN(), math.NaN()
	}
	all := append(append(make([]float64, 0, n), x...), y...)
	total, scale := 0.0, 0.0
	for _, v := range all {
		total += v
		scale += math.Abs(v)
	}
	sum := func(v []float64) (s float64) {
		for _, e := range v {
			s += e
		}
		return s
	}
	difference := func(sx float64) float64 { return math.Abs(sx/float64(nx) - (total-sx)/float64(n-nx)) }
	observed := difference(sum(x)) - 1e-12*scale // sums in another order differ in the last digits
	hits, ways := 0, 0
	var part func(from, left int, sx float64)
	part = func(from, left int, sx float64) {
		if left == 0 {
			ways++
			if difference(sx) >= observed {
				hits++
			}
			return
		}
		for i := from; i <= n-left; i++ {
			part(i+1, left-1, sx+all[i])
		}
	}
	part(0, nx, 0)
	least := 1.0
	if nx == n-nx {
		least = 2 // exchanging two samples of one size gives the same difference
	}
	return float64(hits) / float64(ways), least / count
}

func choose(n, k int) float64 {
	c := 1.0
	for i := 1; i <= k; i++ {
		c = c * float64(n-k+i) / float64(i)
	}
	return math.Round(c)
}
