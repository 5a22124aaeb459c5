package card_test

import (
	"fmt"

	"phototrack/internal/card"
)

// Where the first marker of the leaf side lies on the card.
func ExampleMarkerCornersMM() {
	corners, side, ok := card.MarkerCornersMM(card.FirstLeafID)
	fmt.Println(side, ok, corners[0], corners[2])
	// Output: L true [5 5] [29 29]
}
