// Package csvcell makes texts harmless for spreadsheets: what came with a photo or was written by a person must stay a text
// wherever the file is opened.
package csvcell

import (
	"strings"
	"unicode"
)

// starts are the characters with which a spreadsheet takes a cell for a formula; the wide forms too, which those of East
// Asia read alike (OWASP, "CSV Injection", names the plain ones; the wide ones are common practice).
const starts = "=+-@\uff1d\uff0b\uff0d\uff20"

// breaks are the characters at which a spreadsheet may begin a new cell within a text: it splits lines at semicolons or tabs
// where its own locale or the person opening the file says so, and pays no heed to quotes that do not stand at a cell's
// beginning then.
const breaks = ";\t\r\n|"

// Safe gives the text with an apostrophe, which marks a text, before everything that could be taken for a formula: at its
// beginning, and after each character at which a cell may begin.
func Safe(s string) string {
	var b strings.Builder
	atStart := true
	for _, r := range s {
		if atStart && strings.ContainsRune(starts, r) {
			b.WriteByte('\'')
		}
		switch {
		case strings.ContainsRune(breaks, r):
			atStart = true
		case !blank(r):
			atStart = false
		}
		b.WriteRune(r)
	}
	return b.String()
}

// blank says whether a spreadsheet looks past a character at the beginning of a cell; a quote may open the cell.
func blank(r rune) bool {
	return r == '"' || unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
}
