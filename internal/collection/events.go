package collection

import (
	"fmt"
	"sort"
	"strings"

	"phototrack/internal/record"
)

var eventColumns = []string{"date", "plant", "event", "note", "pot_top_mm", "pot_bottom_mm", "pot_height_mm"}

// eventKinds are the words of events.csv.
var eventKinds = []string{"repot", "medium", "feed", "water", "light", "move", "treat", "cut", "other"}

// EventKinds gives the words that events.csv knows.
func EventKinds() []string { return append([]string(nil), eventKinds...) }

// EventLine is a line of events.csv as it stands there: one event for one plant or many.
type EventLine struct {
	Line       int    // in the file, from 2
	Date       string // YYYY-MM-DD
	Plants     string // as the grower wrote it: numbers, ranges or a group
	Numbers    []int  // the plants that this means now
	Kind, Note string
	Pot        record.Pot
}

// readEvents reads events.csv after plants.csv. A line for several plants becomes several events. They are sorted by
// day, then plant, lines of one day and plant in the file's order.
func (c *Collection) readEvents() {
	t, ok := c.readTable(EventsFile, eventColumns, []string{"date", "plant", "event"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		e := record.Event{Date: r.day("date"), Kind: strings.ToLower(r.text("event")), Note: r.text("note"), Pot: r.pot()}
		if r.text("date") == "" {
			r.fail("date", "the date is missing", "Write dates as year-month-day, such as 2026-05-14.")
		}
		if !contains(eventKinds, e.Kind) {
			r.fail("event", fmt.Sprintf("%q is not a kind of event", clip(e.Kind)), "Use one of "+strings.Join(eventKinds, ", ")+"; put your own words in the note.")
		}
		numbers := r.plants(c, "plant")
		if len(numbers) == 0 && !r.bad {
			r.fail("plant", "no plant is named", "Write a number, ranges such as 3-7, or a group of plants.csv.")
		}
		return func() {
			c.EventLines = append(c.EventLines, EventLine{r.row.line, e.Date, r.text("plant"), numbers, e.Kind, e.Note, e.Pot})
			for _, n := range numbers {
				if _, listed := c.Plant(n); !listed {
					r.note("plant", fmt.Sprintf("plant %d is not in %s", n, PlantsFile), "Add a line for it there, or check the number.")
				}
				e.Plant = n
				c.Events = append(c.Events, e)
			}
		}
	})
	sort.SliceStable(c.Events, func(i, j int) bool {
		a, b := c.Events[i], c.Events[j]
		if a.Date != b.Date {
			return a.Date < b.Date
		}
		return a.Plant < b.Plant
	})
}

// plants reads a cell that names plants: numbers, ranges or a group.
func (r *reader) plants(c *Collection, column string) []int {
	numbers, err := c.Resolve(r.text(column))
	if err != nil {
		r.fail(column, err.Error(), "Write a number, ranges such as 3-7 12, or a group of plants.csv.")
	}
	return numbers
}

// PotAt gives the clear pot that plant stood in on a day (YYYY-MM-DD): the pot of the latest event before that day
// that names one, else the pot of plants.csv. A photo taken on an event's own day counts as before the event, so the
// new pot holds from the day after. An empty day gives the latest pot.
func (c *Collection) PotAt(plant int, day string) record.Pot {
	p, _ := c.Plant(plant)
	pot := p.Pot
	for _, e := range c.potEvents()[plant] { // by day
		if day == "" || e.Date < day {
			pot = e.Pot
		}
	}
	return pot
}

// potEvents are the events that name a pot, by plant and day: photos and events both come in thousands.
func (c *Collection) potEvents() map[int][]record.Event {
	return c.Cached("pots by plant", func() any {
		out := map[int][]record.Event{}
		for _, e := range c.Events { // sorted by day
			if e.Pot.Known() {
				out[e.Plant] = append(out[e.Plant], e)
			}
		}
		return out
	}).(map[int][]record.Event)
}
