package quantity_test

import (
	"fmt"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// A leaf area as it is stored and as a grower reads it: in cm², with the digits that its uncertainty justifies.
func Example() {
	q := record.Quantity{Name: record.LeafArea, Unit: "mm2", Value: 21370.7, U95: 412}
	as := quantity.Of(q.Name, q.Unit)
	decimals, _ := quantity.Decimals(q.U95 * as.Scale)
	fmt.Printf("%s %s ± %s %s\n", as.Title, quantity.Number(q.Value*as.Scale, decimals), quantity.Number(q.U95*as.Scale, decimals), as.Shown)
	// Output: leaf area 214 ± 4 cm²
}
