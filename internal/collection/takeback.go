package collection

import (
	"path/filepath"

	"phototrack/internal/fsx"
)

// list is one of the grower's files whose lines the program can change: its name, the field of corrections.csv under which a change of a
// line is put on record, and the columns it knows.
type list struct {
	file, field string
	columns     []string
}

// The lists.
var (
	eventList = list{EventsFile, FieldEventLine, eventColumns}
	plantList = list{PlantsFile, FieldPlantLine, plantColumns}
	partList  = list{PartsFile, FieldPartLine, partColumns}
	countList = list{CountsFile, FieldCountLine, countColumns}
	ruleList  = list{WatchFile, FieldRuleLine, watchColumns}
)

// listOf is the list whose lines a field of corrections.csv is about; of all other fields its file is "".
func listOf(field string) list {
	for _, l := range []list{eventList, plantList, partList, countList, ruleList} {
		if l.field == field {
			return l
		}
	}
	return list{}
}

// File says which of the grower's files the correction changed a line of, "" where it is about a photo or an answer.
func (k Correction) File() string {
	return listOf(k.Field).file
}

// checkLines says what is wrong with the record of a changed line.
func (k Correction) checkLines() *cellFault {
	for column, text := range map[string]string{"old": k.Old, "new": k.New} {
		if _, err := parseLineText(text); err != nil {
			return &cellFault{column, err.Error(), "Such lines are written by the desk; leave them as they are."}
		}
	}
	return nil
}

// TakeBack undoes a change of lines of events.csv or plants.csv: every line that was changed with k in one go is given
// back its old cells; one that was removed comes back at the end of the file, one that was added goes. The change back is
// put on record like any other. Where a line no longer says what the change made of it, nothing is written.
func (c *Collection) TakeBack(k Correction, reason string) error {
	l := listOf(k.Field)
	file := l.file
	if file == "" {
		return &fsx.HintError{What: "this correction changed no line of a file"}
	}
	data, err := readLimited(filepath.Join(c.Dir, file), maxCSVBytes)
	if err != nil {
		return err
	}
	rows, _ := splitCSV(data)
	if len(rows) == 0 {
		return stale(file)
	}
	var edits []lineEdit
	last := lineEdit{line: rows[len(rows)-1].line}
	used := map[int]bool{}
	for _, other := range c.Corrections {
		if other.Time != k.Time || other.Field != k.Field || other.Reason != k.Reason {
			continue
		}
		old, err := parseLineText(other.Old)
		if err != nil {
			return err
		}
		if other.New == "" {
			last.add = append(last.add, old)
			continue
		}
		line, ok := findLine(rows, other.New, used)
		if !ok {
			return &fsx.HintError{What: "the line of " + file + " has been changed again since", Hint: "Take the later change back first, or change the line itself."}
		}
		used[line] = true
		e := lineEdit{line: line, set: map[string]string{}, remove: other.Old == ""}
		for _, name := range l.columns {
			e.set[name] = old[name]
		}
		edits = append(edits, e)
	}
	return c.rewrite(l, versionOf(data), withAdded(edits, last), reason)
}

// withAdded puts lines that are to come at the end to the last line's edit, or makes one for it.
func withAdded(edits []lineEdit, last lineEdit) []lineEdit {
	if len(last.add) == 0 {
		return edits
	}
	for i := range edits {
		if edits[i].line == last.line {
			edits[i].add = last.add
			return edits
		}
	}
	return append(edits, last)
}

// findLine finds the line that says what text says and is not used yet.
func findLine(rows []csvRow, text string, used map[int]bool) (line int, ok bool) {
	want, err := parseLineText(text)
	if err != nil {
		return 0, false
	}
	for _, r := range rows[1:] {
		has, err := parseLineText(lineText(rows[0].fields, r.fields))
		if err == nil && !used[r.line] && same(has, want) {
			return r.line, true
		}
	}
	return 0, false
}

func same(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if w, ok := b[k]; !ok || w != v {
			return false
		}
	}
	return true
}
