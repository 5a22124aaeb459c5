package root

import (
	"slices"

	"phototrack/internal/uncert"
)

// median leaves v in its order.
func median(v []float64) float64 { return uncert.Median(slices.Clone(v)) }
