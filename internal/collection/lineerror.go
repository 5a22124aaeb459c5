package collection

import (
	"fmt"
	"sort"
	"strings"
	"unicode"
)

// LineError is one thing that is wrong, or worth a note, in a file of the grower's.
type LineError struct {
	File   string // name within the collection, with forward slashes
	Line   int    // from 1; 0 where it is about the whole file
	Column string // name of the column or setting, "" where it is about the whole line
	Index  int    // the column's position from 1, 0 where there is none
	What   string // what is wrong, one sentence without a full stop
	Hint   string // what to do about it
	Note   bool   // the line was used all the same
}

// Error is the place and the fault on one line, as in "plants.csv line 4, column D (pot_top_mm): ...".
func (e LineError) Error() string {
	return e.Place() + ": " + e.What
}

// Place names file, line and column the way a spreadsheet shows them.
func (e LineError) Place() string {
	s := e.File
	if e.Line > 0 {
		s += fmt.Sprintf(" line %d", e.Line)
	}
	switch {
	case e.Column != "" && e.Index > 0:
		s += fmt.Sprintf(", column %s (%s)", columnLetters(e.Index), e.Column)
	case e.Column != "":
		s += ", " + e.Column
	}
	return s
}

// columnLetters names the n-th column as spreadsheets do: A, B, .. Z, AA.
func columnLetters(n int) string {
	s := ""
	for ; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

// sortProblems puts problems in the order of files and lines, so that two runs print the same.
func sortProblems(p []LineError) {
	sort.SliceStable(p, func(i, j int) bool {
		a, b := p[i], p[j]
		switch {
		case a.File != b.File:
			return a.File < b.File
		case a.Line != b.Line:
			return a.Line < b.Line
		}
		return a.Index < b.Index
	})
}

// clip shortens a foreign text for a message and takes its control characters out.
func clip(s string) string { return clipTo(s, 40) }

// clipTo is clip to a number of letters.
func clipTo(s string, most int) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}
