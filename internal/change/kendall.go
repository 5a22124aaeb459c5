package change

import (
	"math"
	"sort"
)

// maxExact is the length up to which the Mann-Kendall test is exact with ties; beyond it the normal approximation is
// good to a few parts in a thousand.
const maxExact = 24

// Kendall is the outcome of a Mann-Kendall test.
type Kendall struct {
	S     int     // concordant less discordant pairs
	P     float64 // two-sided; NaN where no order is possible (fewer than 3 values, or all alike)
	Exact bool
}

func mannKendall(y []float64, known *nulls) Kendall {
	s := 0
	for i := range y {
		for j := i + 1; j < len(y); j++ {
			switch {
			case y[j] > y[i]:
				s++
			case y[j] < y[i]:
				s--
			}
		}
	}
	groups := tieSizes(y)
	switch {
	case len(y) < 3 || len(groups) < 2:
		return Kendall{S: s, P: math.NaN()}
	case len(y) > maxExact:
		return Kendall{S: s, P: normalKendall(s, variance(len(y), groups))}
	case len(groups) == len(y):
		return Kendall{S: s, P: bothTails(s, known.of(len(y))), Exact: true}
	default:
		return Kendall{S: s, P: exactKendall(s, groups), Exact: true}
	}
}

// exactKendall is P(|S| >= |s|) for a random order of values with these tie groups. Groups are laid in one after the
// other; each adds the Mann-Whitney count against all laid before, and these counts are independent.
func exactKendall(s int, groups []int) float64 {
	dist := []float64{1} // of concordant pairs
	laid := groups[0]
	for _, g := range groups[1:] {
		dist = convolve(dist, mannWhitney(laid, g))
		laid += g
	}
	return bothTails(s, dist)
}

// bothTails is P(|S| >= |s|) from the distribution of concordant pairs.
func bothTails(s int, dist []float64) float64 {
	pairs := len(dist) - 1
	p := 0.0
	for i, q := range dist {
		if v := 2*i - pairs; v >= abs(s) || v <= -abs(s) {
			p += q
		}
	}
	return math.Min(p, 1)
}

// mannWhitney is the null distribution of the count of pairs (Mann & Whitney 1947), 0..m n, by the recurrence on the
// last element in order.
func mannWhitney(m, n int) []float64 {
	rows := make([][]float64, m+1) // rows[i] is the distribution for i and the current j
	for i := range rows {
		rows[i] = []float64{1}
	}
	for j := 1; j <= n; j++ {
		for i := 1; i <= m; i++ {
			next := make([]float64, i*j+1)
			a, b := float64(i)/float64(i+j), float64(j)/float64(i+j)
			for k := range next {
				if k >= j && k-j < len(rows[i-1]) {
					next[k] += a * rows[i-1][k-j] // the largest is of the first kind: it is above all j
				}
				if k < len(rows[i]) {
					next[k] += b * rows[i][k]
				}
			}
			rows[i] = next
		}
	}
	return rows[m]
}

func convolve(a, b []float64) []float64 {
	out := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for j, y := range b {
			out[i+j] += x * y
		}
	}
	return out
}

// tieSizes are the sizes of the groups of equal values, each value alone is a group of one.
func tieSizes(y []float64) []int {
	v := append([]float64(nil), y...)
	sort.Float64s(v)
	var out []int
	for i := range v {
		if i > 0 && v[i] == v[i-1] {
			out[len(out)-1]++
		} else {
			out = append(out, 1)
		}
	}
	return out
}

// variance of S under the null, corrected for ties (Kendall 1975).
func variance(n int, groups []int) float64 {
	f := func(k int) float64 { return float64(k*(k-1)) * float64(2*k+5) }
	v := f(n)
	for _, g := range groups {
		v -= f(g)
	}
	return v / 18
}

func normalKendall(s int, v float64) float64 {
	z := float64(max(abs(s)-1, 0)) / math.Sqrt(v)
	return math.Erfc(z / math.Sqrt2)
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}
