package cv

import (
	"sort"

	"gocv.io/x/gocv"
)

// strongest are the indices of the strongest points, ties in the order in which they came.
func strongest(points []gocv.KeyPoint, most int) []int {
	order := make([]int, len(points))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return points[order[a]].Response > points[order[b]].Response })
	return order[:min(most, len(order))]
}
