package collection

import (
	"fmt"
	"strings"
)

// A line of a CSV file on record in corrections.csv is written as "date=2026-05-14,plant=3-7,event=feed": its filled
// cells with their columns' names, so that it can be read by a person and still means the same after columns were moved.

// lineText writes a line's filled cells.
func lineText(header, fields []string) string {
	var parts []string
	seen := map[string]bool{}
	for i, name := range header {
		name = columnName(name)
		if i < len(fields) && name != "" && !seen[name] && plainText(fields[i]) != "" {
			parts = append(parts, name+"="+plainText(fields[i]))
		}
		seen[name] = true
	}
	return dialect{sep: ','}.encodeRow(parts)
}

// parseLineText reads what lineText wrote. An empty text is no line.
func parseLineText(s string) (map[string]string, error) {
	out := map[string]string{}
	if s == "" {
		return out, nil
	}
	row, n := splitRow([]byte(s), ',')
	if row.fault != "" || n < len(s) {
		return nil, fmt.Errorf("%q is not a line with its columns' names", clip(s))
	}
	for _, f := range row.fields {
		name, value, ok := strings.Cut(f, "=")
		if !ok {
			return nil, fmt.Errorf("%q is not a cell with its column's name", clip(f))
		}
		out[columnName(name)] = plainText(value)
	}
	return out, nil
}

// columnName is the name of a column as it is compared.
func columnName(s string) string {
	return strings.ToLower(strings.TrimSpace(strings.Trim(s, byteOrderMark)))
}

// plainText is a cell's text without outer blanks and without the apostrophe that keeps a formula harmless.
func plainText(s string) string {
	s = strings.TrimSpace(s)
	if len(s) > 1 && s[0] == '\'' && strings.ContainsRune("=+-@", rune(s[1])) {
		s = s[1:]
	}
	return s
}

// sameText says whether two cells say the same; line ends within a cell have one meaning.
func sameText(a, b string) bool { return oneEnd(plainText(a)) == oneEnd(plainText(b)) }

// oneEnd makes all line ends within a text alike.
func oneEnd(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}
