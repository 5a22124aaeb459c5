// Package words is how dates, numbers of things, views and events read, wherever they are shown: report, desk, plates and command line
// say the same thing in the same words.
package words

import (
	"strings"
	"time"
)

// Unbroken is the space at which no line ends.
const Unbroken = "\u00a0"

// Day reads a calendar day, YYYY-MM-DD; ok is false for anything else.
func Day(s string) (t time.Time, ok bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil
}

// Date writes a day in full: 18 April 2026.
func Date(t time.Time) string { return t.Format("2 January 2006") }

// Moment writes a day and its time in full: 18 April 2026, 10:15.
func Moment(t time.Time) string { return t.Format("2 January 2006, 15:04") }

// ShortMonth writes the month of a day as an axis has room for: Apr.
func ShortMonth(t time.Time) string { return t.Format("Jan") }

// LongDay writes 2026-04-18 as "18 April 2026"; what is no day stays as it is.
func LongDay(s string) string {
	if t, ok := Day(s); ok {
		return Date(t)
	}
	return s
}

// ShortDay writes 2026-04-18 as "18 Apr 2026"; what is no day stays as it is.
func ShortDay(s string) string {
	if t, ok := Day(s); ok {
		return t.Format("2 Jan 2006")
	}
	return s
}

// Together lets no line end within a text.
func Together(s string) string { return strings.ReplaceAll(s, " ", Unbroken) }

// UnbrokenDay is ShortDay in one piece: no line ends within it.
func UnbrokenDay(s string) string {
	if t, ok := Day(s); ok {
		return Together(t.Format("2 Jan 2006"))
	}
	return s
}

// Month writes 2026-04 as "April 2026"; what is no month stays as it is.
func Month(s string) string {
	if t, err := time.Parse("2006-01", s); err == nil {
		return t.Format("January 2006")
	}
	return s
}

// Period names a stretch of days: a whole month by its name, a whole year by its number, else its two days.
func Period(from, to string) string {
	a, okA := Day(from)
	b, okB := Day(to)
	switch {
	case !okA && !okB:
		return "Report"
	case !okA:
		return "until " + LongDay(to)
	case !okB:
		return "from " + LongDay(from)
	case a.Day() == 1 && a.AddDate(0, 1, -1).Equal(b):
		return a.Format("January 2006")
	case a.YearDay() == 1 && a.AddDate(1, 0, -1).Equal(b):
		return a.Format("2006")
	}
	return LongDay(from) + " to " + LongDay(to)
}
