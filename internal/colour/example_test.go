package colour_test

import (
	"fmt"

	"phototrack/internal/colour"
)

// The first pair of the table of Sharma, Wu & Dalal (2005), The CIEDE2000 color-difference formula.
func ExampleDeltaE2000() {
	fmt.Printf("%.4f\n", colour.DeltaE2000(colour.Lab{L: 50, A: 2.6772, B: -79.7751}, colour.Lab{L: 50, A: 0, B: -82.7485}))
	// Output: 2.0425
}

// Green of the sRGB colour space (IEC 61966-2-1) in CIELAB.
func ExampleRGB_Lab() {
	green := colour.FromSRGB8(0, 255, 0).Lab()
	fmt.Printf("L %.1f, a %.1f, b %.1f\n", green.L, green.A, green.B)
	// Output: L 87.7, a -86.2, b 83.2
}
