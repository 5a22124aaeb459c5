package collection

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/fsx"
)

// table is a CSV file taken apart: a header and rows, with a reader of cells that keeps the faults.
type table struct {
	file    string
	dialect dialect
	columns map[string]int // name -> position from 0
	width   int
	rows    []csvRow
	faults  *[]LineError
}

// readTable reads a file of the collection. Known are all the columns there can be, needed those without which no
// line means anything. ok is false where nothing can be used; the reason is then among the collection's problems. A
// missing file is an empty table with a note.
func (c *Collection) readTable(file string, known, needed []string) (t table, ok bool) {
	t = table{file: file, dialect: dialect{sep: ','}, columns: map[string]int{}, faults: &c.Problems}
	data, err := c.content(file)
	if err == nil {
		c.versions[file] = versionOf(data)
	}
	switch {
	case errors.Is(err, os.ErrNotExist):
		t.fault(LineError{What: "the file is missing", Hint: "phototrack init makes it again, empty, and changes nothing else.", Note: true})
		return t, false
	case err != nil:
		t.fault(LineError{What: err.Error(), Hint: fsx.HintOf(err)})
		return t, false
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		t.fault(LineError{What: "this is a spreadsheet file with a .csv name", Hint: "In the spreadsheet choose 'Save as' and there 'CSV UTF-8'."})
		return t, false
	case bytes.IndexByte(data, 0) >= 0:
		t.fault(LineError{What: "the file is not plain text", Hint: "In the spreadsheet choose 'Save as' and there 'CSV UTF-8'."})
		return t, false
	}
	rows, d := splitCSV(data)
	t.dialect = d
	if len(rows) == 0 {
		return t, true
	}
	if !t.readHeader(rows[0], known, needed) {
		return t, false
	}
	for _, r := range rows[1:] {
		if r.fault != "" {
			t.fault(LineError{Line: r.line, What: r.fault, Hint: `Put a quote at both ends of the field, and double any quote inside it.`})
			continue
		}
		t.rows = append(t.rows, r)
	}
	return t, true
}

// content is what a file holds: on disk, or in the trial that an edit is put to before it is written.
func (c *Collection) content(file string) ([]byte, error) {
	if data, ok := c.trial[file]; ok {
		return data, nil
	}
	return readLimited(filepath.Join(c.Dir, filepath.FromSlash(file)), maxCSVBytes)
}

// readLimited reads a regular file of at most limit bytes.
func readLimited(path string, limit int64) ([]byte, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, fsx.Explain(path, err)
	}
	if !st.Mode().IsRegular() {
		return nil, &fsx.HintError{What: filepath.Base(path) + " is not an ordinary file", Hint: "Move it away; phototrack init makes a new one."}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fsx.Explain(path, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, fsx.Explain(path, err)
	}
	if int64(len(data)) > limit {
		return nil, tooLong(filepath.Base(path), limit)
	}
	return data, nil
}

func tooLong(name string, limit int64) error {
	return &fsx.HintError{What: fmt.Sprintf("%s is larger than %d MB", name, limit>>20), Hint: "This cannot be a file of a collection; look what it is."}
}

func (t *table) readHeader(head csvRow, known, needed []string) bool {
	if head.fault != "" {
		t.fault(LineError{Line: head.line, What: head.fault, Hint: "The first line must be: " + strings.Join(known, ",")})
		return false
	}
	t.width = len(head.fields)
	for i, name := range head.fields {
		name = columnName(name)
		switch _, twice := t.columns[name]; {
		case name == "":
		case !contains(known, name):
			t.fault(LineError{Line: head.line, Column: clip(name), Index: i + 1, Note: true,
				What: "this column is not known and is left alone", Hint: "Known columns: " + strings.Join(known, ", ") + "."})
		case twice:
			t.fault(LineError{Line: head.line, Column: name, Index: i + 1, Note: true,
				What: "this column stands twice; the first one counts", Hint: "Rename one of them."})
		default:
			t.columns[name] = i
		}
	}
	for _, name := range needed {
		if _, there := t.columns[name]; !there {
			t.fault(LineError{Line: head.line, Column: name, What: "the first line has no column of this name, so no line can be read",
				Hint: "The first line must name the columns: " + strings.Join(known, ",")})
			return false
		}
	}
	return true
}

func (t *table) fault(e LineError) {
	e.File = t.file
	*t.faults = append(*t.faults, e)
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}

// reader reads the cells of one row; bad says that the row cannot be used.
type reader struct {
	t   *table
	row csvRow
	bad bool
}

// each calls use for every row, and keep where the row had no fault.
func (t *table) each(use func(r *reader) (keep func())) {
	for _, row := range t.rows {
		if isRemark(row.fields) {
			continue
		}
		r := &reader{t: t, row: row}
		r.checkWidth()
		if keep := use(r); !r.bad && keep != nil {
			keep()
		}
	}
}

// isRemark says that a row is none to read: its first cell begins with a number sign and a blank, as the examples do that
// new lists come with.
func isRemark(fields []string) bool {
	return len(fields) > 0 && strings.HasPrefix(strings.TrimSpace(fields[0]), "# ")
}

// checkWidth refuses a row with text beyond the last named column: a comma without quotes has moved all that follows.
func (r *reader) checkWidth() {
	for i := r.t.width; i < len(r.row.fields); i++ {
		if strings.TrimSpace(r.row.fields[i]) != "" {
			r.fail("", fmt.Sprintf("there are %d fields where the first line names %d columns", len(r.row.fields), r.t.width),
				`A text (or a decimal comma) with the separator in it needs quotes: "bark, fine".`)
			return
		}
	}
}

// text is the cell's text without outer blanks and without the apostrophe that keeps a formula harmless.
func (r *reader) text(column string) string {
	i, ok := r.t.columns[column]
	if !ok || i >= len(r.row.fields) {
		return ""
	}
	return plainText(r.row.fields[i])
}

// fail leaves the row out and says why.
func (r *reader) fail(column, what, hint string) {
	r.bad = true
	r.say(column, what, hint, false)
}

// note says something about a row that is used all the same.
func (r *reader) note(column, what, hint string) { r.say(column, what, hint, true) }

func (r *reader) say(column, what, hint string, note bool) {
	index := 0
	if i, ok := r.t.columns[column]; ok {
		index = i + 1
	}
	r.t.fault(LineError{Line: r.row.line, Column: column, Index: index, What: what, Hint: hint, Note: note})
}
