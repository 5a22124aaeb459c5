package collection

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"time"
)

// MaxPlant is the largest plant number: tags carry codes 1 to 574 of the marker dictionary, the card the rest.
const MaxPlant = 574

// errNoNumber is returned for text that is no number.
var errNoNumber = errors.New("not a number")

// parseNumber reads a finite decimal number; with comma, a decimal comma is read too. Hexadecimal, "inf" and
// underscores, which Go's own reader takes, are no numbers here.
func parseNumber(s string, comma bool) (float64, error) {
	if comma && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	if s == "" || strings.Trim(s, "+-0123456789.eE") != "" {
		return 0, errNoNumber
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, errNoNumber
	}
	return v, nil
}

// number reads a cell between low and high; an empty cell is 0 and given false. A decimal comma can only stand in a
// cell where the comma does not separate fields, or in quotes, so it is never ambiguous.
func (r *reader) number(column string, low, high float64) (v float64, given bool) {
	s := r.text(column)
	if s == "" {
		return 0, false
	}
	v, err := parseNumber(s, true)
	switch {
	case err != nil:
		r.fail(column, fmt.Sprintf("%q is not a number", clip(s)), "Write the bare number, such as 120 or 92.5, without a unit; leave the cell empty where it is not known.")
	case v < low || v > high:
		r.fail(column, fmt.Sprintf("%s is outside %g to %g", clip(s), low, high), "Check the number and its unit.")
	}
	return v, true
}

var (
	isoDate   = regexp.MustCompile(`^\d{4}-\d{1,2}-\d{1,2}$`)
	isoMoment = regexp.MustCompile(`^(\d{4}-\d{2}-\d{2})[T ]\d{2}:\d{2}(:\d{2})?`)
	localDate = regexp.MustCompile(`^(\d{1,2})([./-])(\d{1,2})[./-](\d{4})$`)
)

// earliestYear is the first that is believed of a list: a plant may have been had long before cameras wrote dates.
const earliestYear = 1900

// mostMonth is the last month: a larger number is a day.
const mostMonth = 12

// parseDay reads an ISO 8601 calendar day and gives it as YYYY-MM-DD; a time after it is dropped.
func parseDay(s string) (string, bool) {
	if m := isoMoment.FindStringSubmatch(s); m != nil {
		s = m[1]
	}
	if !isoDate.MatchString(s) {
		return "", false
	}
	t, err := time.Parse("2006-1-2", s)
	if err != nil || t.Year() < earliestYear {
		return "", false
	}
	return t.Format(time.DateOnly), true
}

// day reads a date; empty is allowed and gives "".
func (r *reader) day(column string) string {
	s := r.text(column)
	if s == "" {
		return ""
	}
	day, ok := parseDay(s)
	if !ok {
		r.fail(column, fmt.Sprintf("%q is not a date", clip(s)), dateHint(s))
	}
	return day
}

// dateHint offers the date as it was probably meant, where that is certain.
func dateHint(s string) string {
	const plain = "Write dates as year-month-day, such as 2026-05-14."
	m := localDate.FindStringSubmatch(s)
	if m == nil {
		return plain
	}
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[3])
	switch {
	case m[2] == "." || a > mostMonth: // a point stands between day, month, year everywhere
		if day, ok := parseDay(fmt.Sprintf("%s-%02d-%02d", m[4], b, a)); ok {
			return plain + " This one would be " + day + "."
		}
	case b > mostMonth:
		if day, ok := parseDay(fmt.Sprintf("%s-%02d-%02d", m[4], a, b)); ok {
			return plain + " This one would be " + day + "."
		}
	}
	return plain + " Here it is not clear which is the day and which the month; set the column to text so that the spreadsheet keeps it."
}

var (
	listSplit = regexp.MustCompile(`[\s,;+&]+`)
	oneNumber = regexp.MustCompile(`^#?(\d{1,4})$`)
	aRange    = regexp.MustCompile(`^#?(\d{1,4})(?:-|\x{2013}|\.\.)#?(\d{1,4})$`)
	dashBlank = regexp.MustCompile(`(\d)\s*(-|\x{2013}|\.\.)\s*(\d)`)
)

// ParseNumbers reads plant numbers and ranges, "3-7 12" or "3, 5": sorted, each once. ok is false where any part is
// something else (then it may be a group's name); an error where it is numbers, but not of plants.
func ParseNumbers(s string) (numbers []int, ok bool, err error) {
	parts := listSplit.Split(strings.Trim(dashBlank.ReplaceAllString(s, "$1$2$3"), " ,;"), -1)
	seen := map[int]bool{}
	for _, p := range parts {
		from, to, isNum := numberOrRange(p)
		if !isNum {
			return nil, false, nil
		}
		if from < 1 || to > MaxPlant {
			return nil, true, fmt.Errorf("%s: plant numbers run from 1 to %d", p, MaxPlant)
		}
		if from > to {
			return nil, true, fmt.Errorf("%s: the range runs backwards", p)
		}
		for n := from; n <= to; n++ {
			seen[n] = true
		}
	}
	for n := range seen {
		numbers = append(numbers, n)
	}
	sort.Ints(numbers)
	return numbers, true, nil
}

func numberOrRange(p string) (from, to int, ok bool) {
	if m := oneNumber.FindStringSubmatch(p); m != nil {
		from, _ = strconv.Atoi(m[1])
		return from, from, true
	}
	if m := aRange.FindStringSubmatch(p); m != nil {
		from, _ = strconv.Atoi(m[1])
		to, _ = strconv.Atoi(m[2])
		return from, to, true
	}
	return 0, 0, false
}
