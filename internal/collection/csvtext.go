package collection

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// A CSV reader of our own rather than encoding/csv: a spreadsheet's file must lose one line to a fault, not all that
// follows, and every fault needs its line. Rules: RFC 4180, with comma, semicolon or tab between the fields, any line
// end, a byte order mark, and the old Windows code page where a line is no UTF-8.

// dialect is how a file is written, so that added lines look like the others.
type dialect struct {
	sep    byte
	legacy bool // not UTF-8: Windows-1252
}

// csvRow is one record with the line it begins on.
type csvRow struct {
	line   int
	fields []string
	fault  string // "" where the row could be split
	at     span   // bytes of the file that the row takes, its line end among them
	cells  []span // bytes of each field, quotes among them
}

// span is a range of bytes of a file, the end not among them.
type span struct{ from, to int }

const byteOrderMark = "\ufeff"

// maxCSVBytes bounds what is read of one file: a collection of 574 plants over fifty years stays far below.
const maxCSVBytes = 64 << 20

// splitCSV cuts a whole file into rows; empty lines are left out. Text that opens a quote and never closes it loses
// its own line only.
func splitCSV(data []byte) ([]csvRow, dialect) {
	whole := len(data)
	data = bytes.TrimPrefix(data, []byte(byteOrderMark))
	d := dialect{sep: ',', legacy: !utf8.Valid(data)}
	line := 1
	if rest, sep, ok := sepLine(data); ok {
		d.sep, data, line = sep, rest, 2
	} else {
		d.sep = guessSeparator(data)
	}
	var rows []csvRow
	for len(data) > 0 {
		row, n := splitRow(data, d.sep)
		row.line = line
		row.move(whole-len(data), n)
		line += countLineEnds(data[:n])
		data = data[n:]
		if !isBlank(row) {
			for i := range row.fields {
				row.fields[i] = toUTF8(row.fields[i])
			}
			rows = append(rows, row)
		}
	}
	return rows, d
}

// move puts the positions of a row that begins at byte from and takes n bytes in terms of the whole file.
func (r *csvRow) move(from, n int) {
	r.at = span{from, from + n}
	for i := range r.cells {
		r.cells[i].from += from
		r.cells[i].to += from
	}
}

// sepLine reads the "sep=;" line that one spreadsheet writes before the header.
func sepLine(data []byte) (rest []byte, sep byte, ok bool) {
	first, rest, _ := bytes.Cut(data, []byte("\n"))
	first = bytes.TrimRight(first, "\r")
	if len(first) == 5 && strings.EqualFold(string(first[:4]), "sep=") && strings.IndexByte(",;|\t", first[4]) >= 0 {
		return rest, first[4], true
	}
	return nil, 0, false
}

// guessSeparator takes the separator that the header line has most of.
func guessSeparator(data []byte) byte {
	for len(data) > 0 && (data[0] == '\n' || data[0] == '\r') {
		data = data[1:]
	}
	head, _, _ := bytes.Cut(data, []byte("\n"))
	best, most := byte(','), 0
	for _, sep := range []byte{',', ';', '\t'} {
		if n := bytes.Count(head, []byte{sep}); n > most {
			best, most = sep, n
		}
	}
	return best
}

// splitRow reads one record at the start of data and says how many bytes it took.
func splitRow(data []byte, sep byte) (row csvRow, n int) {
	pos := 0
	for {
		field, next, ok := splitField(data, pos, sep)
		if !ok {
			row.fault = "a quote is opened and not closed properly"
			return row, endOfLine(data, 0)
		}
		row.fields = append(row.fields, field)
		row.cells = append(row.cells, span{pos, next})
		if next < len(data) && data[next] == sep {
			pos = next + 1
			continue
		}
		return row, endOfLine(data, next)
	}
}

// splitField reads the field at pos; next is the position of the separator or line end after it. A quote inside a
// field that did not begin with one is taken as it is (5" pot).
func splitField(data []byte, pos int, sep byte) (field string, next int, ok bool) {
	if pos >= len(data) || data[pos] != '"' {
		end := pos
		for end < len(data) && !endsField(data[end], sep) {
			end++
		}
		return string(data[pos:end]), end, true
	}
	var b []byte
	for i := pos + 1; i < len(data); i++ {
		switch {
		case data[i] != '"':
			b = append(b, data[i])
		case i+1 < len(data) && data[i+1] == '"':
			b = append(b, '"')
			i++
		default:
			next = i + 1
			for next < len(data) && data[next] == ' ' {
				next++
			}
			return string(b), next, next == len(data) || endsField(data[next], sep)
		}
	}
	return "", len(data), false
}

func endsField(c, sep byte) bool { return c == sep || c == '\n' || c == '\r' }

// endOfLine is the position after the next line end (LF, CRLF or a lone CR) at or after pos.
func endOfLine(data []byte, pos int) int {
	for i := pos; i < len(data); i++ {
		if data[i] == '\n' {
			return i + 1
		}
		if data[i] == '\r' {
			if i+1 < len(data) && data[i+1] == '\n' {
				return i + 2
			}
			return i + 1
		}
	}
	return len(data)
}

func countLineEnds(data []byte) int {
	n := 0
	for pos := 0; pos < len(data); n++ {
		next := endOfLine(data, pos)
		if next == len(data) && data[next-1] != '\n' && data[next-1] != '\r' {
			break
		}
		pos = next
	}
	return n
}

func isBlank(row csvRow) bool {
	if row.fault != "" {
		return false
	}
	for _, f := range row.fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

// toUTF8 reads text that is no UTF-8 as Windows-1252, which is what spreadsheets on Windows write as plain "CSV".
func toUTF8(s string) string {
	if utf8.ValidString(s) {
		return s
	}
	out, err := charmap.Windows1252.NewDecoder().String(s)
	if err != nil {
		return strings.ToValidUTF8(s, "\ufffd")
	}
	return out
}

// encodeRow writes one row in the file's own dialect. Fields are quoted where needed; a text that a spreadsheet would
// run as a formula is kept harmless by a leading apostrophe.
func (d dialect) encodeRow(fields []string) string {
	var b strings.Builder
	for i, f := range fields {
		if i > 0 {
			b.WriteByte(d.sep)
		}
		b.WriteString(d.quote(defuse(f)))
	}
	return d.encode(b.String())
}

// encode puts a text into the file's own coding, where that has its characters.
func (d dialect) encode(s string) string {
	if d.legacy {
		if enc, err := charmap.Windows1252.NewEncoder().String(s); err == nil {
			return enc
		}
	}
	return s
}

func (d dialect) quote(f string) string {
	f = oneEnd(f)
	if strings.ContainsAny(f, "\"\n") || strings.IndexByte(f, d.sep) >= 0 || strings.TrimSpace(f) != f {
		return `"` + strings.ReplaceAll(f, `"`, `""`) + `"`
	}
	return f
}

// defuse disarms what a spreadsheet would take for a formula; plain numbers such as -4.5 pass.
func defuse(f string) string {
	if f == "" || !strings.ContainsRune("=+-@\t", rune(f[0])) {
		return f
	}
	if _, err := parseNumber(f, false); err == nil {
		return f
	}
	return "'" + f
}
