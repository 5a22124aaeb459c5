package collection

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phototrack/internal/fsx"
)

// ErrStale says that a file is no longer the one that a change was meant for; nothing was written.
var ErrStale = errors.New("the file has changed on disk in the meantime, so nothing was written")

// Version names the content of one of the grower's files as it was read, "" where it was missing. A change of a line
// gives the version that the line was seen in; where the file on disk has another, the change is refused (ErrStale).
func (c *Collection) Version(file string) string { return c.versions[file] }

func versionOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:16])
}

func stale(file string) error {
	return &fsx.HintError{What: file, Hint: "Look at the file as it is now, and repeat the change if it is still wanted.", Err: ErrStale}
}

// lineEdit is what becomes of one line of a CSV file.
type lineEdit struct {
	line   int                 // where it begins, as csvRow.line
	set    map[string]string   // new texts by column; columns that are not named stay byte for byte
	remove bool                // the line goes
	add    []map[string]string // lines that come after it
}

// lineChange is one changed line before and after, "" where there is none, as lineText writes it.
type lineChange struct{ old, new string }

// rewrite changes lines of one of the grower's files, all of them or, on an error, none. Everything else stays to the
// byte: other lines, the order, columns that are not known, line ends, coding, byte order mark. A change that would
// leave any line of the collection unreadable is refused. The file as it was is kept under FormerDir, and every changed
// line is put on record in corrections.csv. Hold the collection's lock.
func (c *Collection) rewrite(l list, version string, edits []lineEdit, reason string) error {
	file := l.file
	path := filepath.Join(c.Dir, file)
	data, err := readLimited(path, maxCSVBytes)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err != nil || versionOf(data) != version || c.versions[file] != version {
		return stale(file)
	}
	fresh, changes, err := edited(file, data, l.columns, edits)
	if err != nil || bytes.Equal(fresh, data) {
		return err
	}
	return c.replace(l, fsx.Replacement{Path: file, Old: data, New: fresh}, changes, reason)
}

// replaceTries is how often a change is begun anew when another program saves corrections.csv at the same moment.
const replaceTries = 10

// replace puts a list's new bytes in place of the old, which is what the file is known to hold, and puts the changes on record: both or
// neither, whenever the program ends.
func (c *Collection) replace(l list, with fsx.Replacement, changes []lineChange, reason string) error {
	file := l.file
	if err := c.tryOut(file, with.New); err != nil {
		return err
	}
	if err := c.keepFormer(file, with.Old); err != nil {
		return err
	}
	var list []Correction
	now := time.Now().Format("2006-01-02T15:04:05.000Z07:00") // what was changed in one go has one time, see TakeBack
	for _, k := range changes {
		list = append(list, Correction{Time: now, Field: l.field, Old: k.old, New: k.new, Reason: reason})
	}
	rows, err := correctionRows(list)
	if err != nil {
		return err
	}
	for try := 0; ; try++ {
		old, err := fsx.ReadSettled(c.Path(CorrectionsFile))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return fsx.Explain(c.Path(CorrectionsFile), err)
		}
		longer, err := withRows(CorrectionsFile, old, correctionColumns, rows)
		if err != nil {
			return err
		}
		err = fsx.ReplaceTogether(c.Dir, "a change of "+file, with,
			fsx.Replacement{Path: CorrectionsFile, Old: old, New: longer})
		if errors.Is(err, fsx.ErrNotSame) {
			if is, e := readLimited(filepath.Join(c.Dir, file), maxCSVBytes); e != nil || !bytes.Equal(is, with.Old) || try >= replaceTries {
				return stale(file)
			}
			continue // corrections.csv was saved by another program: the lines go after what is there now
		}
		if err != nil {
			return err
		}
		return c.Reload()
	}
}

// tryOut reads the collection as it would be, and refuses what would leave a line unreadable that can be read now.
func (c *Collection) tryOut(file string, fresh []byte) error {
	then := &Collection{Dir: c.Dir, trial: map[string][]byte{file: fresh}}
	then.readFiles()
	known := map[string]int{}
	for _, e := range c.Problems {
		known[e.File+e.Column+e.What]++ // without the line, which moves when a line before it goes
	}
	for _, e := range then.Problems {
		k := e.File + e.Column + e.What
		if known[k]--; known[k] < 0 && !e.Note {
			return &fsx.HintError{What: "then this would be wrong: " + e.Error(), Hint: e.Hint}
		}
	}
	return nil
}

// keepFormer keeps a file as it was before a change: former/events_2026-05-14_101530_0123abcd.csv.
func (c *Collection) keepFormer(file string, data []byte) error {
	dir := c.Path(FormerDir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fsx.Explain(dir, err)
	}
	ext := filepath.Ext(file)
	name := fmt.Sprintf("%s_%s_%.8s%s", strings.TrimSuffix(file, ext), time.Now().Format("2006-01-02_150405"), versionOf(data), ext)
	err := fsx.PlaceNew(filepath.Join(dir, name), 0o644, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if errors.Is(err, os.ErrExist) {
		return nil // the same content, kept within the same second
	}
	return err
}

// edited applies edits to the content of a file.
func edited(file string, data []byte, known []string, edits []lineEdit) (out []byte, changes []lineChange, err error) {
	rows, d := splitCSV(data)
	if len(rows) == 0 {
		return nil, nil, stale(file)
	}
	p := patcher{file: file, data: data, dialect: d, known: known, header: rows[0]}
	edits = slices.Clone(edits)
	slices.SortStableFunc(edits, func(a, b lineEdit) int { return cmp.Compare(a.line, b.line) })
	done := 0
	for i, e := range edits {
		k := slices.IndexFunc(rows, func(r csvRow) bool { return r.line == e.line && r.fault == "" })
		if k < 0 || k == 0 && (e.remove || len(e.set) > 0) || i > 0 && edits[i-1].line == e.line {
			return nil, nil, stale(file)
		}
		row := rows[k]
		p.out = append(p.out, data[done:row.at.from]...)
		done = row.at.to
		if err := p.line(row, e); err != nil {
			return nil, nil, err
		}
	}
	return append(p.out, data[done:]...), p.changes, nil
}

// patcher writes a file anew, line by line.
type patcher struct {
	file    string
	data    []byte
	dialect dialect
	known   []string
	header  csvRow
	out     []byte
	changes []lineChange
}

// line writes what becomes of one row.
func (p *patcher) line(row csvRow, e lineEdit) error {
	old := lineText(p.header.fields, row.fields)
	content := row.cells[len(row.cells)-1].to // the line end begins here
	end := p.data[content:row.at.to]
	if e.remove {
		p.changes = append(p.changes, lineChange{old: old})
	} else {
		fresh, fields, err := p.cells(row, e.set)
		if err != nil {
			return err
		}
		p.out = append(append(p.out, fresh...), end...)
		if now := lineText(p.header.fields, fields); now != old {
			p.changes = append(p.changes, lineChange{old, now})
		}
	}
	for _, values := range e.add {
		fields, err := arrange(p.file, p.header.fields, p.known, values)
		if err != nil {
			return err
		}
		line := p.dialect.encodeRow(fields)
		if len(end) == 0 && !e.remove { // the last line, without an end
			line = p.lineEnd() + line
		} else {
			line += string(end)
		}
		p.out = append(p.out, line...)
		p.changes = append(p.changes, lineChange{new: lineText(p.header.fields, fields)})
	}
	return nil
}

// lineEnd is the end that the header has, which any second line goes with.
func (p *patcher) lineEnd() string {
	if end := p.data[p.header.cells[len(p.header.cells)-1].to:p.header.at.to]; len(end) > 0 {
		return string(end)
	}
	return "\n"
}

// cells gives a row's bytes, without line end, and its fields with new texts in some columns. Cells whose text does not
// change keep their bytes.
func (p *patcher) cells(row csvRow, set map[string]string) (out []byte, fields []string, err error) {
	want, err := arrange(p.file, p.header.fields, p.known, set)
	if err != nil {
		return nil, nil, err
	}
	from := row.at.from
	fields = slices.Clone(row.fields)
	seen := map[string]bool{}
	var missing []int // columns that the row is too short for
	for i, name := range p.header.fields {
		name = columnName(name)
		_, named := set[name]
		named = named && !seen[name] // a column that stands twice: the first one counts
		seen[name] = true
		switch {
		case !named || i < len(fields) && sameText(fields[i], want[i]):
		case i < len(row.cells):
			out = append(out, p.data[from:row.cells[i].from]...)
			out = append(out, p.dialect.encodeRow([]string{want[i]})...)
			from, fields[i] = row.cells[i].to, want[i]
		case want[i] != "":
			missing = append(missing, i)
		}
	}
	out = append(out, p.data[from:row.cells[len(row.cells)-1].to]...)
	for _, i := range missing {
		for len(fields) <= i {
			out = append(out, p.dialect.sep)
			fields = append(fields, "")
		}
		out = append(out, p.dialect.encodeRow([]string{want[i]})...)
		fields[i] = want[i]
	}
	return out, fields, nil
}
