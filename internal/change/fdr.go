package change

import (
	"math"
	"sort"
)

// BenjaminiHochberg turns p-values into q-values: the smallest false discovery rate at which each would be listed
// (Benjamini & Hochberg 1995). NaN stays NaN and does not count as a test.
func BenjaminiHochberg(p []float64) []float64 {
	order := make([]int, 0, len(p))
	q := make([]float64, len(p))
	for i, x := range p {
		if math.IsNaN(x) {
			q[i] = x
		} else {
			order = append(order, i)
		}
	}
	sort.Slice(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	least := 1.0
	for k := len(order) - 1; k >= 0; k-- {
		least = math.Min(least, p[order[k]]*float64(len(order))/float64(k+1))
		q[order[k]] = least
	}
	return q
}
