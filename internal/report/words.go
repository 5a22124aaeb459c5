package report

import (
	"fmt"
	"strings"
	"time"

	"phototrack/internal/digest"
	"phototrack/internal/record"
)

// day reads a calendar day; ok is false for anything else.
func day(s string) (t time.Time, ok bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil
}

// longDay writes 2026-04-18 as "18 April 2026"; what is no date stays as it is.
func longDay(s string) string {
	if t, ok := day(s); ok {
		return t.Format("2 January 2006")
	}
	return s
}

// shortDay writes 2026-04-18 as "18 Apr 2026", with spaces that do not break.
func shortDay(s string) string {
	if t, ok := day(s); ok {
		return strings.ReplaceAll(t.Format("2 Jan 2006"), " ", "\u00a0")
	}
	return s
}

// periodWords names a period: a whole month by its name, a whole year by its number, else its two days.
func periodWords(from, to string) string {
	a, okA := day(from)
	b, okB := day(to)
	switch {
	case !okA && !okB:
		return "Report"
	case !okA:
		return "until " + longDay(to)
	case !okB:
		return "from " + longDay(from)
	case a.Day() == 1 && a.AddDate(0, 1, -1).Equal(b):
		return a.Format("January 2006")
	case a.YearDay() == 1 && a.AddDate(1, 0, -1).Equal(b):
		return a.Format("2006")
	}
	return longDay(from) + " to " + longDay(to)
}

// count writes a number with its noun: "1 photo", "3 photos".
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// list joins words as a sentence does: "a, b and c".
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// viewWords is a view as a heading.
func viewWords(v record.View) string {
	if v == record.Root {
		return "Roots"
	}
	return "Leaves"
}

// KindWords is an event's kind as a person would say it.
func KindWords(kind string) string {
	words := map[string]string{"repot": "repotted", "medium": "new medium", "feed": "feeding changed", "water": "watering changed",
		"light": "light changed", "move": "moved", "treat": "treated", "cut": "cut back", "other": "event"}
	if w, ok := words[kind]; ok {
		return w
	}
	return kind
}

// kindNoun is an event's kind as a noun with its article.
func kindNoun(kind string) string { return digest.EventNoun(kind) }

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
