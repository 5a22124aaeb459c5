package collection

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// PartsFile lists the parts of plants that are followed. A collection without the file has none.
const PartsFile = "parts.csv"

var partColumns = []string{"plant", "part", "kind", "name", "from", "until", "note"}

// maxPartName is the longest name of a part, in letters: it stands in tables and beside lines on photos.
const maxPartName = 40

// absent says that a file of the grower's is not there, which for some files is no fault.
func (c *Collection) absent(file string) bool {
	_, err := c.content(file)
	return errors.Is(err, os.ErrNotExist)
}

func (c *Collection) readParts() {
	if c.absent(PartsFile) {
		return
	}
	t, ok := c.readTable(PartsFile, partColumns, []string{"plant", "part"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		p := record.Part{Line: r.row.line, Plant: r.plantNumber("plant"), Part: oneLine(r.text("part")), Kind: strings.ToLower(r.text("kind")),
			Name: r.text("name"), From: r.day("from"), Until: r.day("until"), Note: r.text("note")}
		if what, hint := partNameFault(p.Part); what != "" {
			r.fail("part", what, hint)
		}
		if p.Kind == "" {
			p.Kind = kindOfName(p.Part)
		}
		if !record.IsPartKind(p.Kind) {
			r.fail("kind", fmt.Sprintf("%q is not a kind of part", clip(p.Kind)), "Use one of "+strings.Join(record.PartKinds(), ", ")+"; put your own words in the name or the note.")
		}
		if q, twice := c.Part(p.Plant, p.Part); twice && !r.bad {
			r.fail("part", fmt.Sprintf("plant %d has a part %q in line %d already", p.Plant, clip(q.Part), q.Line), "Give this one a name of its own, such as the next number. Lines drawn for that name go with the first.")
		}
		if p.From != "" && p.Until != "" && p.From > p.Until {
			r.fail("until", "the part is gone before it is there", "Check the two dates.")
		}
		if _, listed := c.Plant(p.Plant); !listed && !r.bad {
			r.note("plant", fmt.Sprintf("plant %d is not in %s", p.Plant, PlantsFile), "Add a line for it there, or check the number.")
		}
		return func() { c.Parts = append(c.Parts, p) }
	})
}

// partNameFault says what is wrong with the name of a part, "" for nothing.
func partNameFault(name string) (what, hint string) {
	switch {
	case name == "":
		return "the part's name is missing", "Write a short name that is unique on the plant, such as spike 1."
	case len([]rune(name)) > maxPartName:
		return fmt.Sprintf("%q is longer than %d letters", clip(name), maxPartName), "Write a short name, such as spike 1; longer words go into the name or the note."
	}
	return "", ""
}

// kindOfName is the kind that a name begins with ("spike 1"), "other" for none.
func kindOfName(name string) string {
	first, _, _ := strings.Cut(strings.ToLower(name), " ")
	if record.IsPartKind(first) {
		return first
	}
	return "other"
}

// Part finds a part of a plant by its name; upper and lower case are alike.
func (c *Collection) Part(plant int, name string) (record.Part, bool) {
	for _, p := range c.Parts {
		if p.Plant == plant && record.SamePart(p.Part, name) {
			return p, true
		}
	}
	return record.Part{}, false
}

// PartsOf gives a plant's parts in the file's order, gone ones too.
func (c *Collection) PartsOf(plant int) (out []record.Part) {
	for _, p := range c.Parts {
		if p.Plant == plant {
			out = append(out, p)
		}
	}
	return out
}

// AppendPart adds a line to parts.csv. An empty kind is taken from the name.
func (c *Collection) AppendPart(p record.Part) error {
	p.Part = oneLine(p.Part)
	if what, hint := partNameFault(p.Part); what != "" {
		return &fsx.HintError{What: what, Hint: hint}
	}
	if p.Kind == "" {
		p.Kind = kindOfName(p.Part)
	}
	if !record.IsPartKind(p.Kind) {
		return &fsx.HintError{What: fmt.Sprintf("%q is not a kind of part", clip(p.Kind)), Hint: "Use one of " + strings.Join(record.PartKinds(), ", ") + "."}
	}
	if _, there := c.Part(p.Plant, p.Part); there {
		return &fsx.HintError{What: fmt.Sprintf("plant %d has a part %q already", p.Plant, clip(p.Part)), Hint: "Choose it from the list, or give this one a name of its own."}
	}
	if _, listed := c.Plant(p.Plant); !listed {
		return &fsx.HintError{What: fmt.Sprintf("plant %d is not in %s", p.Plant, PlantsFile), Hint: "Add the plant first."}
	}
	for _, d := range []*string{&p.From, &p.Until} {
		day, ok := parseDay(*d)
		if *d != "" && !ok {
			return &fsx.HintError{What: fmt.Sprintf("%q is not a date", clip(*d)), Hint: dateHint(*d)}
		}
		if ok {
			*d = day
		}
	}
	if p.From != "" && p.Until != "" && p.From > p.Until {
		return &fsx.HintError{What: "the part is gone before it is there", Hint: "Check the two dates."}
	}
	err := c.appendRow(PartsFile, partColumns, map[string]string{"plant": strconv.Itoa(p.Plant), "part": p.Part, "kind": p.Kind,
		"name": oneLine(p.Name), "from": p.From, "until": p.Until, "note": oneLine(p.Note)})
	if err != nil {
		return err
	}
	return c.Reload()
}

// PartChange says what is to hold for a line of parts.csv; what is nil stays. The short name stays too: lines on photos
// go by it.
type PartChange struct{ Kind, Name, From, Until, Note *string }

// ChangePart changes a line of parts.csv, named by plant and part, in the file of the version given. Errors: ErrStale;
// what is wrong with a value.
func (c *Collection) ChangePart(version string, plant int, part string, k PartChange, reason string) error {
	p, ok := c.Part(plant, part)
	if !ok {
		return stale(PartsFile)
	}
	set, err := changed(map[string]*string{"kind": k.Kind, "name": k.Name, "from": k.From, "until": k.Until, "note": k.Note})
	if err != nil {
		return err
	}
	return c.rewrite(partList, version, []lineEdit{{line: p.Line, set: set}}, reason)
}
