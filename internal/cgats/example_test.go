package cgats_test

import (
	"fmt"
	"strings"

	"phototrack/internal/cgats"
)

func ExampleRead() {
	file, err := cgats.Read(strings.NewReader(`CGATS.17
NUMBER_OF_FIELDS 4
BEGIN_DATA_FORMAT
SAMPLE_ID LAB_L LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 1
BEGIN_DATA
A1 50.00 0.00 0.00
END_DATA
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	s := file.Samples[0]
	fmt.Printf("%s: linear sRGB %.3f %.3f %.3f\n", s.ID, s.Linear[0], s.Linear[1], s.Linear[2])
	for _, a := range file.Assumed {
		fmt.Println(a)
	}
	// Output:
	// A1: linear sRGB 0.184 0.184 0.184
	// The file does not say for which light: D50 and 2 degrees were taken, the rule for prints (ISO 13655).
}
