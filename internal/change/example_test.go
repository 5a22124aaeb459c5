package change_test

import (
	"fmt"
	"strings"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// Two photos of plant 12, a month apart, become two sessions and their difference.
func ExampleAnalyze() {
	photo := func(day time.Time, areaMM2 float64) record.Photo {
		return record.Photo{
			Name: day.Format("012_2006-01_L.jpg"), Plant: 12, View: record.Leaf, Status: record.Accepted,
			Taken:      record.Stamp{Time: day, Source: "exif"},
			Quantities: []record.Quantity{uncert.Quantity(record.LeafArea, "mm2", areaMM2, uncert.Normal("scale fit", 60))},
		}
	}
	a := change.Analyze(change.Input{
		Photos: []record.Photo{
			photo(time.Date(2026, 6, 7, 10, 0, 0, 0, time.UTC), 20000),
			photo(time.Date(2026, 7, 7, 10, 0, 0, 0, time.UTC), 23000),
		},
		Plants: []record.Plant{{Number: 12, Name: "Neoregelia"}},
		From:   "2026-07-01", To: "2026-07-31",
		Settings: change.DefaultSettings(),
	})
	for _, c := range a.Changes {
		fmt.Println(c.Verdict)
		fmt.Println(strings.ReplaceAll(c.Sentence, quantity.Thin, " "))
	}
	// Output:
	// rose
	// Neoregelia (12): leaf area rose by 30 ± 5 cm² (+15.0 ± 2.3 %) since the last session (7 June 2026).
	// rose
	// Neoregelia (12): leaf area rose by 30 ± 5 cm² (+15.0 ± 2.3 %) since the start (7 June 2026).
}

// The median of all slopes between two points (Sen 1968): one wild value does not move it.
func ExampleTheilSen() {
	fmt.Printf("%.1f\n", change.TheilSen([]float64{0, 1, 2, 3, 4}, []float64{10, 12, 14, 90, 18}))
	// Output: 2.0
}
