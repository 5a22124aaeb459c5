package collection

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// appendRow adds lines to a file of the grower's: in the file's own separator, coding, line end and order of columns;
// everything that is there stays as it is, and so does what another program saves meanwhile. A column that the file lacks
// is an error where a line has a value for it, for a line without it would mean something else.
func (c *Collection) appendRow(file string, known []string, list ...map[string]string) error {
	if len(list) == 0 {
		return nil
	}
	return fsx.Update(filepath.Join(c.Dir, file), func(old []byte) ([]byte, error) { return withRows(file, old, known, list) })
}

// withRows is the content of a file with lines added.
func withRows(file string, old []byte, known []string, list []map[string]string) ([]byte, error) {
	if len(old) > maxCSVBytes {
		return nil, tooLong(file, maxCSVBytes)
	}
	rows, d := splitCSV(old)
	header := known
	if len(rows) > 0 {
		header = rows[0].fields
	}
	var lines []string
	for _, values := range list {
		fields, err := arrange(file, header, known, values)
		if err != nil {
			return nil, err
		}
		lines = append(lines, d.encodeRow(fields))
	}
	return fsx.Appended(old, strings.Join(known, ","), lines...), nil
}

// arrange puts values into the order of the file's header.
func arrange(file string, header, known []string, values map[string]string) ([]string, error) {
	fields := make([]string, len(header))
	used := map[string]bool{}
	for i, name := range header {
		name = columnName(name)
		if !used[name] {
			fields[i] = values[name]
		}
		used[name] = true
	}
	for _, name := range known {
		if values[name] != "" && !used[name] {
			return nil, &fsx.HintError{What: fmt.Sprintf("%s has no column %s, so the line was not added", file, name),
				Hint: "Add the column to the first line of the file and try again."}
		}
	}
	return fields, nil
}

func mm(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// AppendEvent adds a line to events.csv and to c.Events. plants is kept as the grower wrote it: numbers, ranges or a
// group. The plants concerned are returned.
func (c *Collection) AppendEvent(date, plants, kind, note string, pot record.Pot) ([]int, error) {
	e, err := c.checkEvent(date, plants, kind, note, pot)
	if err != nil {
		return nil, err
	}
	err = c.appendRow(EventsFile, eventColumns, e.cells())
	if err != nil {
		return nil, err
	}
	return e.Numbers, c.Reload()
}

// checkEvent makes a line of what a person wrote, or says what is wrong with it.
func (c *Collection) checkEvent(date, plants, kind, note string, pot record.Pot) (e EventLine, err error) {
	day, ok := parseDay(date)
	if !ok {
		return e, &fsx.HintError{What: fmt.Sprintf("%q is not a date", clip(date)), Hint: dateHint(date)}
	}
	numbers, err := c.Resolve(plants)
	if err == nil && len(numbers) == 0 {
		err = errors.New("no plant is named")
	}
	if err != nil {
		return e, &fsx.HintError{Hint: "Write a number, ranges such as 3-7, or a group of plants.csv.", Err: err}
	}
	kind = strings.ToLower(strings.TrimSpace(kind))
	if !contains(eventKinds, kind) {
		return e, &fsx.HintError{What: fmt.Sprintf("%q is not a kind of event", clip(kind)), Hint: "Use one of " + strings.Join(eventKinds, ", ") + "; put your own words in the note."}
	}
	for _, n := range numbers {
		if _, listed := c.Plant(n); !listed {
			return e, &fsx.HintError{What: fmt.Sprintf("plant %d is not in %s", n, PlantsFile), Hint: "Add a line for it there, or check the number."}
		}
	}
	if pot != (record.Pot{}) && !pot.Known() {
		return e, &fsx.HintError{What: "the pot needs three sizes", Hint: "Give the inside diameters at rim and base and the height of the wall: --pot 120,100,125."}
	}
	return EventLine{Date: day, Plants: strings.TrimSpace(plants), Numbers: numbers, Kind: kind, Note: note, Pot: pot}, nil
}

// cells are an event's cells by column.
func (e EventLine) cells() map[string]string {
	return withPot(map[string]string{"date": e.Date, "plant": e.Plants, "event": e.Kind, "note": e.Note}, e.Pot)
}

// withPot adds a pot's three cells.
func withPot(cells map[string]string, p record.Pot) map[string]string {
	cells["pot_top_mm"], cells["pot_bottom_mm"], cells["pot_height_mm"] = mm(p.TopMM), mm(p.BottomMM), mm(p.HeightMM)
	return cells
}

// AppendCorrection adds a line to corrections.csv and to c.Corrections. An empty Time is filled in with now.
func (c *Collection) AppendCorrection(k Correction) error { return c.AppendCorrections(k) }

// AppendCorrections adds several lines at once: all of them or, on an error, none.
func (c *Collection) AppendCorrections(list ...Correction) error {
	rows, err := correctionRows(list)
	if err != nil {
		return err
	}
	if err := c.appendRow(CorrectionsFile, correctionColumns, rows...); err != nil {
		return err
	}
	return c.Reload()
}

// correctionRows are corrections as lines, after a look at whether they can be applied.
func correctionRows(list []Correction) (rows []map[string]string, err error) {
	for _, k := range list {
		if k.Time == "" {
			k.Time = time.Now().Format(time.RFC3339)
		}
		if fault := k.check(); fault != nil {
			return nil, &fsx.HintError{What: fault.what, Hint: fault.hint}
		}
		rows = append(rows, map[string]string{"time": k.Time, "photo": k.Photo, "field": k.Field, "old": k.Old, "new": k.New, "reason": k.Reason})
	}
	return rows, nil
}

// AppendAnswer marks a watch rule as dealt with for a plant.
func (c *Collection) AppendAnswer(plant int, w record.WatchRule, note string) error {
	return c.AppendCorrection(Correction{Field: FieldAnswer, Old: strconv.Itoa(plant), New: w.Key(), Reason: note})
}

// AppendCard adds a line to cards.csv.
func (c *Collection) AppendCard(k CardRecord) error {
	if k.FromDate != "" {
		day, ok := parseDay(k.FromDate)
		if !ok {
			return &fsx.HintError{What: fmt.Sprintf("%q is not a date", clip(k.FromDate)), Hint: dateHint(k.FromDate)}
		}
		k.FromDate = day
	}
	if k.ColourFrom == "" {
		k.ColourFrom = "nominal"
	}
	if k.ColourFrom != "nominal" {
		if _, err := c.File(k.ColourFrom); err != nil {
			return &fsx.HintError{Hint: "Put the file into the collection's folder and give its name.", Err: err}
		}
	}
	values := map[string]string{"from_date": k.FromDate, "colour_from": k.ColourFrom, "note": k.Note}
	if k.Measured {
		values["across_mm"], values["down_mm"] = mm(k.AcrossMM), mm(k.DownMM)
	}
	if err := c.appendRow(CardsFile, cardColumns, values); err != nil {
		return err
	}
	return c.Reload()
}

// AppendPlant adds a line to plants.csv.
func (c *Collection) AppendPlant(p record.Plant) error {
	if p.Number < 1 || p.Number > MaxPlant {
		return &fsx.HintError{What: fmt.Sprintf("%d is not a plant number", p.Number), Hint: fmt.Sprintf("Plant numbers run from 1 to %d.", MaxPlant)}
	}
	if _, there := c.Plant(p.Number); there {
		return &fsx.HintError{What: fmt.Sprintf("plant %d is in %s already", p.Number, PlantsFile), Hint: "A number belongs to one plant for life: take a free one."}
	}
	err := c.appendRow(PlantsFile, plantColumns, withPot(map[string]string{"number": strconv.Itoa(p.Number), "name": p.Name, "group": p.Group,
		"from": p.From, "until": p.Until, "note": p.Note}, p.Pot))
	if err != nil {
		return err
	}
	return c.Reload()
}
