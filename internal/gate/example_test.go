package gate_test

import (
	"fmt"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// A photo's reasons become its outcome and the sentences that the grower reads.
func Example() {
	reasons := []record.Reason{gate.Because(gate.Tilted, "%.0f°", 41.0)}
	status := gate.StatusOf(reasons)
	fmt.Println(status, gate.Counts(status, reasons))
	for _, r := range reasons {
		g, _ := gate.Lookup(r.Code)
		fmt.Println(gate.Text(r))
		fmt.Println("hint:", g.Hint)
	}
	// Output:
	// flagged true
	// The card is seen at a steep angle (41°).
	// hint: Hold the camera more square to the card.
}
