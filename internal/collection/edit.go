package collection

import (
	"fmt"
	"slices"
	"strings"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// EventChange says what is to hold for lines of events.csv; what is nil stays as it is in each line.
type EventChange struct {
	Date, Plants, Kind, Note *string
	Pot                      *record.Pot // the zero value takes the pot away
}

// PlantChange says what is to hold for lines of plants.csv; what is nil stays as it is in each line. A plant's number
// cannot be changed: it belongs to one plant for life.
type PlantChange struct {
	Name, Group, From, Until, Note *string
	Pot                            *record.Pot // the zero value takes the pot away
}

// ChangeEvents changes lines of events.csv, named by their Line in the file of the version given: all of them or, on an
// error, none. Errors: ErrStale; what is wrong with a value.
func (c *Collection) ChangeEvents(version string, lines []int, k EventChange, reason string) error {
	var edits []lineEdit
	for _, n := range lines {
		e, err := c.eventLine(n)
		if err != nil {
			return err
		}
		set, err := c.eventCells(e, k)
		if err != nil {
			return err
		}
		edits = append(edits, lineEdit{line: n, set: set})
	}
	return c.rewrite(eventList, version, edits, reason)
}

// RemoveEvents takes lines out of events.csv. They stay on record in corrections.csv, and can be taken back from there.
func (c *Collection) RemoveEvents(version string, lines []int, reason string) error {
	var edits []lineEdit
	for _, n := range lines {
		edits = append(edits, lineEdit{line: n, remove: true})
	}
	return c.rewrite(eventList, version, edits, reason)
}

// ChangeEventOf changes what a line for several plants says of one of them: the plant leaves the line and gets one of
// its own directly after it.
func (c *Collection) ChangeEventOf(version string, line, plant int, k EventChange, reason string) error {
	e, rest, err := c.partOf(line, plant)
	if err != nil {
		return err
	}
	own := e
	own.Plants, own.Numbers = fmt.Sprint(plant), []int{plant}
	set, err := c.eventCells(own, k)
	if err != nil {
		return err
	}
	cells := own.cells()
	for name, v := range set {
		cells[name] = v
	}
	return c.rewrite(eventList, version,
		[]lineEdit{{line: line, set: map[string]string{"plant": rest}, add: []map[string]string{cells}}}, reason)
}

// RemoveEventOf takes one plant out of a line for several.
func (c *Collection) RemoveEventOf(version string, line, plant int, reason string) error {
	_, rest, err := c.partOf(line, plant)
	if err != nil {
		return err
	}
	return c.rewrite(eventList, version, []lineEdit{{line: line, set: map[string]string{"plant": rest}}}, reason)
}

// changed are those fields of a line that are given, from and until as dates.
func changed(fields map[string]*string) (map[string]string, error) {
	set := map[string]string{}
	for name, v := range fields {
		if v != nil {
			set[name] = oneLine(*v)
		}
	}
	for _, name := range []string{"from", "until"} {
		day, ok := parseDay(set[name])
		if set[name] != "" && !ok {
			return nil, &fsx.HintError{What: fmt.Sprintf("%q is not a date", clip(set[name])), Hint: dateHint(set[name])}
		}
		if ok {
			set[name] = day
		}
	}
	return set, nil
}

// ChangePlants changes the lines of plants in plants.csv, all of them or, on an error, none.
func (c *Collection) ChangePlants(version string, numbers []int, k PlantChange, reason string) error {
	set, err := changed(map[string]*string{"name": k.Name, "group": k.Group, "from": k.From, "until": k.Until, "note": k.Note})
	if err != nil {
		return err
	}
	if k.Pot != nil {
		withPot(set, *k.Pot)
	}
	var edits []lineEdit
	for _, n := range numbers {
		p, ok := c.Plant(n)
		if !ok {
			return stale(PlantsFile)
		}
		own := map[string]string{}
		for name, v := range set {
			if !strings.HasPrefix(name, "pot_") || *k.Pot != p.Pot { // 100,0 and 100 are one size
				own[name] = v
			}
		}
		edits = append(edits, lineEdit{line: c.plantLines[n], set: own})
	}
	return c.rewrite(plantList, version, edits, reason)
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// eventLine finds a line of events.csv.
func (c *Collection) eventLine(line int) (EventLine, error) {
	for _, e := range c.EventLines {
		if e.Line == line {
			return e, nil
		}
	}
	return EventLine{}, stale(EventsFile)
}

// eventCells are the cells of a line that change, checked as those of a new line.
func (c *Collection) eventCells(e EventLine, k EventChange) (map[string]string, error) {
	was := e.cells()
	for _, v := range []struct {
		into *string
		from *string
	}{{&e.Date, k.Date}, {&e.Plants, k.Plants}, {&e.Kind, k.Kind}, {&e.Note, k.Note}} {
		if v.from != nil {
			*v.into = oneLine(*v.from)
		}
	}
	if k.Pot != nil {
		e.Pot = *k.Pot
	}
	now, err := c.checkEvent(e.Date, e.Plants, e.Kind, e.Note, e.Pot)
	if err != nil {
		return nil, err
	}
	set := map[string]string{}
	for name, v := range now.cells() {
		if v != was[name] { // so that a date or a size that is written otherwise and means the same stays
			set[name] = v
		}
	}
	return set, nil
}

// partOf gives a line for several plants, and what its plants are without one of them.
func (c *Collection) partOf(line, plant int) (e EventLine, rest string, err error) {
	if e, err = c.eventLine(line); err != nil {
		return e, "", err
	}
	k := slices.Index(e.Numbers, plant)
	if k < 0 {
		return e, "", stale(EventsFile)
	}
	if len(e.Numbers) == 1 {
		return e, "", &fsx.HintError{What: "the line is about this plant alone", Hint: "Change or remove the whole line."}
	}
	others := slices.Delete(slices.Clone(e.Numbers), k, k+1)
	slices.Sort(others)
	return e, numbersText(others), nil
}

// numbersText writes sorted plant numbers with their runs as ranges: "3-7 12".
func numbersText(numbers []int) string {
	var parts []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		switch {
		case j == i:
			parts = append(parts, fmt.Sprint(numbers[i]))
		case j == i+1:
			parts = append(parts, fmt.Sprint(numbers[i]), fmt.Sprint(numbers[j]))
		default:
			parts = append(parts, fmt.Sprintf("%d-%d", numbers[i], numbers[j]))
		}
		i = j + 1
	}
	return strings.Join(parts, " ")
}
