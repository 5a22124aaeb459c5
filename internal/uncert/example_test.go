package uncert_test

import (
	"fmt"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// A leaf of 200 cm²: the fit of the scale, the print of the card (the same for every photo, so that it cancels in a change),
// and the depth of the leaf, which lies anywhere within a range.
func ExampleQuantity() {
	q := uncert.Quantity(record.LeafArea, "mm2", 20000,
		uncert.Normal("scale fit", 60),
		uncert.Common(uncert.Normal("print", 80)),
		uncert.Rectangular("depth shot", 300),
	)
	fmt.Printf("%.0f ± %.0f %s\n", q.Value, q.U95, q.Unit)
	_, varying := uncert.Split(q.Terms)
	fmt.Printf("of a change: %.0f\n", uncert.U95(varying))
	// Output:
	// 20000 ± 367 mm2
	// of a change: 321
}

// Where one rectangular term rules, 95 % of its range is the interval (JCGM 101:2008, 5): not twice its standard uncertainty.
func ExampleU95() {
	fmt.Printf("%.3f\n", uncert.U95([]record.Term{uncert.Rectangular("depth shot", 1)}))
	fmt.Printf("%.3f\n", uncert.U95([]record.Term{uncert.Normal("scale fit", 1)}))
	// Output:
	// 0.950
	// 1.960
}
