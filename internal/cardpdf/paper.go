package cardpdf

import (
	"fmt"
	"strings"
)

// Paper is a sheet, upright, in millimetres.
type Paper struct {
	Name              string
	WidthMM, HeightMM float64
}

const inchMM = 25.4

// Papers lists the sheets the card can be printed on: A4 (ISO 216), US letter (ANSI Y14.1, 8.5 x 11
// inches) and the 4 x 6 inch photo print.
func Papers() []Paper {
	return []Paper{
		{"a4", 210, 297},
		{"letter", 8.5 * inchMM, 11 * inchMM},
		{"4x6", 4 * inchMM, 6 * inchMM},
	}
}

// PaperByName finds a sheet by its name, upper or lower case. The error lists the names there are.
func PaperByName(name string) (Paper, error) {
	var names []string
	for _, p := range Papers() {
		if strings.EqualFold(strings.TrimSpace(name), p.Name) {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return Paper{}, fmt.Errorf("no paper called %q; there is %s", name, strings.Join(names, ", "))
}
