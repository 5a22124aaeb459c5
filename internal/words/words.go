package words

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"phototrack/internal/record"
)

// Count writes a number with its noun: "1 photo", "3 photos".
func Count(n int, one, many string) string { return strconv.Itoa(n) + " " + Noun(n, one, many) }

// Noun is the noun that belongs to a number of things.
func Noun(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// List joins words as a sentence does: "a, b and c".
func List(list []string) string {
	switch n := len(list); n {
	case 0:
		return ""
	case 1:
		return list[0]
	default:
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
}

// Upper begins a sentence.
func Upper(s string) string { return first(s, unicode.ToUpper) }

// Lower lets a word stand within a sentence.
func Lower(s string) string { return first(s, unicode.ToLower) }

func first(s string, to func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError {
		return s
	}
	return string(to(r)) + s[n:]
}

// View is a view as a heading.
func View(v record.View) string {
	switch v {
	case record.Leaf:
		return "Leaves"
	case record.Root:
		return "Roots"
	}
	return "No card"
}

// Arrow is the sign of a verdict and the class in which a page draws it. A rise is neither good nor bad: both are drawn in the same ink.
func Arrow(v record.Verdict) (mark, class string) {
	switch v {
	case record.Rose:
		return "↑", "went-up"
	case record.Fell:
		return "↓", "went-down"
	case record.NoChange:
		return "=", "same"
	}
	return "○", "few"
}
