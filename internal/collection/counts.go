package collection

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// CountsFile holds what was counted by hand. A collection without the file has no counts.
const CountsFile = "counts.csv"

var countColumns = []string{"date", "plant", "what", "count", "note"}

// maxCount is far above what anybody counts on a potted plant: it catches a date or a number in the wrong column.
const maxCount = 10000

// CountWords are what is usually counted; the grower's own words are as good.
func CountWords() []string {
	return []string{"spikes", "buds", "flowers", "growths", "leaves", "offsets"}
}

// readCounts reads counts.csv: by day, then plant, then in the file's order. Of two lines for one day, plant and thing
// the later one counts.
func (c *Collection) readCounts() {
	if c.absent(CountsFile) {
		return
	}
	t, ok := c.readTable(CountsFile, countColumns, []string{"date", "plant", "what", "count"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		k := record.Count{Line: r.row.line, Date: r.day("date"), Plant: r.plantNumber("plant"), What: countWord(r.text("what")), Note: r.text("note")}
		if r.text("date") == "" {
			r.fail("date", "the date is missing", "Write dates as year-month-day, such as 2026-05-14.")
		}
		if k.What == "" {
			r.fail("what", "what was counted is missing", "Write one of "+strings.Join(CountWords(), ", ")+", or a word of your own.")
		}
		n, what, hint := parseCount(r.text("count"))
		if what != "" {
			r.fail("count", what, hint)
		}
		k.Count = n
		return func() {
			for i, o := range c.Counts {
				if o.Date == k.Date && o.Plant == k.Plant && o.What == k.What {
					r.note("what", fmt.Sprintf("the %s of plant %d on %s stand in line %d already; this line counts", clip(k.What), k.Plant, k.Date, o.Line), "Remove the line that is wrong.")
					c.Counts[i] = k
					return
				}
			}
			c.Counts = append(c.Counts, k)
		}
	})
	sort.SliceStable(c.Counts, func(i, j int) bool {
		a, b := c.Counts[i], c.Counts[j]
		if a.Date != b.Date {
			return a.Date < b.Date
		}
		return a.Plant < b.Plant
	})
}

func countWord(s string) string { return strings.ToLower(oneLine(s)) }

// parseCount reads a count, or says what is wrong with it.
func parseCount(s string) (n int, what, hint string) {
	s = strings.TrimSpace(s)
	n, err := strconv.Atoi(s)
	switch {
	case s == "":
		return 0, "the count is missing", "Write a whole number; 0 says that there were none."
	case err != nil:
		return 0, fmt.Sprintf("%q is not a whole number", clip(s)), "Write a whole number, such as 3; 0 says that there were none."
	case n < 0:
		return 0, fmt.Sprintf("%q is below zero", clip(s)), "Write how many there were; 0 says that there were none."
	case n > maxCount:
		return 0, fmt.Sprintf("%q is more than %d", clip(s), maxCount), "Check that the columns are in the right order."
	}
	return n, "", ""
}

// CountsOf gives a plant's counts, oldest first.
func (c *Collection) CountsOf(plant int) (out []record.Count) {
	for _, k := range c.Counts {
		if k.Plant == plant {
			out = append(out, k)
		}
	}
	return out
}

// SetCount writes how many there were: a new line of counts.csv, or, where the day's line is there, that line changed and
// the change put on record. count is as it was typed.
func (c *Collection) SetCount(date string, plant int, what, count, note string) error {
	day, ok := parseDay(date)
	if !ok {
		return &fsx.HintError{What: fmt.Sprintf("%q is not a date", clip(date)), Hint: dateHint(date)}
	}
	if what = countWord(what); what == "" {
		return &fsx.HintError{What: "what was counted is missing", Hint: "Write one of " + strings.Join(CountWords(), ", ") + ", or a word of your own."}
	}
	n, fault, hint := parseCount(count)
	if fault != "" {
		return &fsx.HintError{What: fault, Hint: hint}
	}
	if _, listed := c.Plant(plant); !listed {
		return &fsx.HintError{What: fmt.Sprintf("plant %d is not in %s", plant, PlantsFile), Hint: "Add the plant first."}
	}
	set := map[string]string{"date": day, "plant": strconv.Itoa(plant), "what": what, "count": strconv.Itoa(n), "note": oneLine(note)}
	for _, k := range c.Counts {
		if k.Date == day && k.Plant == plant && k.What == what {
			if k.Count == n && k.Note == oneLine(note) {
				return nil
			}
			delete(set, "date") // as the grower wrote it
			return c.rewrite(countList, c.versions[CountsFile], []lineEdit{{line: k.Line, set: set}}, "counted again")
		}
	}
	if err := c.appendRow(CountsFile, countColumns, set); err != nil {
		return err
	}
	return c.Reload()
}
