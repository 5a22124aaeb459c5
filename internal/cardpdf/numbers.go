package cardpdf

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"phototrack/internal/card"
)

// ParseNumbers reads a set of plant numbers such as "1-70" or "3, 5, 9-12". The result is sorted and
// holds each number once. Hyphens and en dashes both make a range, and spaces do not matter. Errors
// name the part that is wrong: not a number, outside 1..574, a range that runs backwards, or nothing.
func ParseNumbers(s string) ([]int, error) {
	var out []int
	for _, part := range strings.Split(strings.ReplaceAll(s, "–", "-"), ",") {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		from, to, err := parseRange(part)
		if err != nil {
			return nil, err
		}
		for n := from; n <= to; n++ {
			out = append(out, n)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no plant numbers given; write them like 1-70 or 3,5,9-12")
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

func parseRange(part string) (from, to int, err error) {
	first, last, isRange := strings.Cut(part, "-")
	if from, err = parseNumber(first, part); err != nil {
		return 0, 0, err
	}
	if !isRange {
		return from, from, nil
	}
	if to, err = parseNumber(last, part); err != nil {
		return 0, 0, err
	}
	if to < from {
		return 0, 0, fmt.Errorf("%q runs backwards; write %d-%d", part, to, from)
	}
	return from, to, nil
}

func parseNumber(s, part string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil {
		return 0, fmt.Errorf("%q is not a plant number or a range of them; write numbers like 7 or 1-70", part)
	}
	return n, checkNumber(n)
}

func checkNumber(n int) error {
	switch {
	case n < card.MinPlant:
		return fmt.Errorf("no tag for plant %d: numbers run from %d to %d", n, card.MinPlant, card.MaxPlant)
	case n > card.MaxPlant:
		return fmt.Errorf("no tag for plant %d: numbers run from %d to %d, because the marker codes from %d on belong to the scale card or do not exist",
			n, card.MinPlant, card.MaxPlant, card.FirstLeafID)
	}
	return nil
}
