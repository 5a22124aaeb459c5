package collection

import (
	"fmt"
	"strconv"
	"strings"

	"phototrack/internal/record"
)

// Names of the grower's files within a collection.
const (
	PlantsFile      = "plants.csv"
	EventsFile      = "events.csv"
	WatchFile       = "watch.csv"
	CardsFile       = "cards.csv"
	CorrectionsFile = "corrections.csv"
	SettingsFile    = "settings.toml"
)

var plantColumns = []string{"number", "name", "group", "pot_top_mm", "pot_bottom_mm", "pot_height_mm", "from", "until", "note"}

// Sizes of pots that can be: below, a thimble; above, a barrel. They catch centimetres and inches in a mm column.
const (
	minPotMM = 15
	maxPotMM = 1000
)

func (c *Collection) readPlants() {
	t, ok := c.readTable(PlantsFile, plantColumns, []string{"number"})
	if !ok {
		return
	}
	firstLine := map[int]int{}
	c.plantLines = firstLine
	t.each(func(r *reader) func() {
		p := record.Plant{Number: r.plantNumber("number"), Name: r.text("name"), Group: r.text("group"),
			Pot: r.pot(), From: r.day("from"), Until: r.day("until"), Note: r.text("note")}
		if line, twice := firstLine[p.Number]; twice && !r.bad {
			r.fail("number", fmt.Sprintf("plant %d stands in line %d already", p.Number, line), "A number belongs to one plant for life: give this plant a number of its own.")
		}
		if p.From != "" && p.Until != "" && p.From > p.Until {
			r.fail("until", "the plant leaves the collection before it joins it", "Check the two dates.")
		}
		return func() {
			firstLine[p.Number] = r.row.line
			c.Plants = append(c.Plants, p)
		}
	})
}

// plantNumber reads the number of one plant.
func (r *reader) plantNumber(column string) int {
	s := strings.TrimPrefix(r.text(column), "#")
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || n > MaxPlant {
		what := fmt.Sprintf("%q is not a plant number", clip(s))
		if s == "" {
			what = "the plant's number is missing"
		}
		r.fail(column, what, fmt.Sprintf("Plant numbers run from 1 to %d, as on the printed tags.", MaxPlant))
		return 0
	}
	return n
}

const (
	potSizes  = 3   // a pot is known by all of its sizes or not at all
	mostFlare = 1.5 // base over rim, and
	mostTaper = 3.0 // rim over base: beyond, the columns were most likely exchanged (chosen by eye)
)

// pot reads the three sizes of a clear pot: all or none. With some of them the pot counts as unknown, with a note.
func (r *reader) pot() record.Pot {
	var p record.Pot
	given := 0
	for _, c := range []struct {
		name string
		into *float64
	}{{"pot_top_mm", &p.TopMM}, {"pot_bottom_mm", &p.BottomMM}, {"pot_height_mm", &p.HeightMM}} {
		v, has := r.number(c.name, minPotMM, maxPotMM)
		if has {
			*c.into = v
			given++
		}
	}
	if given == 0 || r.bad {
		return record.Pot{}
	}
	if given < potSizes {
		r.note("pot_top_mm", "only some of the pot's three sizes are given, so they are not used", "Give the inside diameters at rim and base and the height of the wall, or none of them.")
		return record.Pot{}
	}
	if p.BottomMM > mostFlare*p.TopMM || p.TopMM > mostTaper*p.BottomMM {
		r.note("pot_bottom_mm", "the pot is of an unusual shape", "Check that the diameters at rim and base are in the right columns.")
	}
	return p
}

// Plant finds a plant of plants.csv by its number.
func (c *Collection) Plant(number int) (record.Plant, bool) {
	for _, p := range c.Plants {
		if p.Number == number {
			return p, true
		}
	}
	return record.Plant{}, false
}

// Group gives the numbers of a group's plants in the order of plants.csv; upper and lower case are alike.
func (c *Collection) Group(name string) []int {
	var out []int
	for _, p := range c.Plants {
		if p.Group != "" && strings.EqualFold(p.Group, strings.TrimSpace(name)) {
			out = append(out, p.Number)
		}
	}
	return out
}

// Resolve turns what a person writes for plants into numbers: a number, ranges and lists ("3-7 12"), or a group of
// plants.csv. An empty text gives none.
func (c *Collection) Resolve(s string) ([]int, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return nil, nil
	}
	if numbers := c.Group(s); len(numbers) > 0 {
		return numbers, nil
	}
	numbers, isNumbers, err := ParseNumbers(s)
	if err != nil {
		return nil, err
	}
	if !isNumbers {
		return nil, fmt.Errorf("%q is neither plant numbers nor a group of %s", clip(s), PlantsFile)
	}
	return numbers, nil
}
