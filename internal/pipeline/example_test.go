package pipeline_test

import (
	"fmt"
	"os"

	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// One photo of the samples, measured without a collection. One Measurer is for many photos: it loads the networks once.
func ExampleMeasurer_Measure() {
	data, err := os.ReadFile("../../samples/photos/012_2026-03_L.jpg")
	if err != nil {
		fmt.Println(err)
		return
	}
	var m pipeline.Measurer
	defer m.Close()
	p := m.Measure(data, pipeline.Job{Name: "012_2026-03_L.jpg"}, nil)
	fmt.Println("plant", p.Plant, p.View, p.Taken.Day(), p.Status)
	for _, q := range p.Quantities {
		if q.Name == record.LeafArea {
			fmt.Printf("an area in %s, with an interval: %v\n", q.Unit, q.U95 > 0)
		}
	}
	// Output:
	// plant 12 leaf 2026-03-07 accepted
	// an area in mm2, with an interval: true
}
