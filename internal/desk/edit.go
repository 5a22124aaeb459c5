package desk

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// editBody is the page on which lines of events.csv or plants.csv are changed.
type editBody struct {
	File    string
	Version string // of the file that the lines were seen in
	One     bool   // a single line: everything can be changed, and an empty field means empty
	Events  []collection.EventLine
	Event   collection.EventLine // the single one
	Plants  []record.Plant
	Plant   record.Plant // the single one
	Only    int          // plant that the grower came from, 0 for none
	Back    string       // address of the page that the grower came from
	Number  string       // of the plant there, "" for none
	Kinds   []string
	Groups  []string
	Part    record.Part       // the line of parts.csv
	Typed   map[string]string // what was typed, of an entry that was refused; else the single line's own values
	Wrong   wrong             // why it was refused
}

// editWords give the field of a form that a refusal is about.
var editWords = map[string]string{"date": "date", "plant": "plants", "group": "plants", "pot": "pot_top", "event": "event", "kind": "kind", "count": "count"}

// page is where the body is shown, under a title.
func (b editBody) page(title string) sheet {
	return sheet{template: "edit.html", title: title, here: "notes", body: b}
}

// refuse puts into the body what was typed and why it was refused; ok is false where the error is not the entry's fault.
func (b *editBody) refuse(form url.Values, err error) (ok bool) {
	why, ok := refusal(err, editWords)
	if !ok {
		return false
	}
	if why.Field == "date" { // plants and parts have two: the one that is no date
		for _, name := range []string{"from", "until"} {
			if v := form.Get(name); v != "" && strings.Contains(why.What, v) {
				why.Field = name
			}
		}
	}
	b.Typed, b.Wrong = typed(form), why
	return true
}

// editEvents shows the form for one line of events.csv or several.
func (d *Desk) editEvents(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b, err := eventsToEdit(s, r.URL.Query())
	switch {
	case errors.Is(err, collection.ErrStale):
		return back(w, r, "/notes?said=stale")
	case err != nil:
		return err
	}
	return d.show(w, r, s, b.page("Change events"))
}

// eventsToEdit are the lines of events.csv that a form is about. Errors: collection.ErrStale where the file is another by now.
func eventsToEdit(s *snapshot, q url.Values) (editBody, error) {
	b := editBody{File: collection.EventsFile, Version: s.c.Version(collection.EventsFile), Kinds: collection.EventKinds(), Back: backTo(q), Number: q.Get("back")}
	b.Only, _ = strconv.Atoi(q.Get("plant"))
	want := map[int]bool{}
	for _, n := range numbersIn(q["line"]) {
		want[n] = true
	}
	for _, e := range s.c.EventLines {
		if want[e.Line] {
			b.Events = append(b.Events, e)
		}
	}
	if len(want) == 0 {
		return b, bad(http.StatusUnprocessableEntity, "no line was chosen", "Tick the lines that are to be changed.")
	}
	if q.Get("version") != b.Version || len(b.Events) != len(want) {
		return b, collection.ErrStale
	}
	b.One, b.Event, b.Typed = len(want) == 1, b.Events[0], map[string]string{}
	if e := b.Event; b.One {
		b.Typed = map[string]string{"date": e.Date, "plants": e.Plants, "event": e.Kind, "note": e.Note}
		potTyped(b.Typed, e.Pot)
	}
	return b, nil
}

// potTyped fills a form's fields of a pot.
func potTyped(to map[string]string, p record.Pot) {
	if p.Known() {
		to["pot_top"], to["pot_bottom"], to["pot_height"] = fmt.Sprint(p.TopMM), fmt.Sprint(p.BottomMM), fmt.Sprint(p.HeightMM)
	}
}

// editPlants shows the form for one plant or several.
func (d *Desk) editPlants(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b, err := plantsToEdit(s, r.URL.Query())
	if err != nil {
		return err
	}
	return d.show(w, r, s, b.page("Change plants"))
}

// plantsToEdit are the lines of plants.csv that a form is about.
func plantsToEdit(s *snapshot, q url.Values) (editBody, error) {
	b := editBody{File: collection.PlantsFile, Version: s.c.Version(collection.PlantsFile), Groups: groupsOf(s.c.Plants), Back: backTo(q), Number: q.Get("back")}
	for _, n := range numbersIn(q["number"]) {
		p, ok := s.c.Plant(n)
		if !ok {
			return b, notFound("that plant is not in plants.csv")
		}
		b.Plants = append(b.Plants, p)
	}
	if len(b.Plants) == 0 {
		return b, bad(http.StatusUnprocessableEntity, "no plant was chosen", "Tick the plants that are to be changed.")
	}
	b.One, b.Plant, b.Typed = len(b.Plants) == 1, b.Plants[0], map[string]string{}
	if p := b.Plant; b.One {
		b.Typed = map[string]string{"name": p.Name, "group": p.Group, "from": p.From, "until": p.Until, "note": p.Note}
		potTyped(b.Typed, p.Pot)
	}
	return b, nil
}

// saveEvents changes lines of events.csv, or removes them.
func (d *Desk) saveEvents(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	lines, version, why := numbersIn(f["line"]), f.Get("version"), strings.TrimSpace(f.Get("reason"))
	only, _ := strconv.Atoi(f.Get("only"))
	if len(lines) == 0 || only > 0 && len(lines) != 1 {
		return bad(http.StatusUnprocessableEntity, "no line was chosen", "Tick the lines that are to be changed.")
	}
	one := len(lines) == 1
	pot, err := potGiven(f, one)
	if err != nil {
		return d.refusedEdit(w, r, s, err)
	}
	k := collection.EventChange{Date: given(f, "date", one), Kind: given(f, "event", one), Note: given(f, "note", one), Pot: pot}
	if one && only == 0 {
		k.Plants = given(f, "plants", true)
	}
	return d.saveLines(w, r, s, func(c *collection.Collection) error {
		switch remove := f.Get("do") == "remove"; {
		case remove && only > 0:
			return c.RemoveEventOf(version, lines[0], only, why)
		case remove:
			return c.RemoveEvents(version, lines, why)
		case only > 0:
			return c.ChangeEventOf(version, lines[0], only, k, why)
		}
		return c.ChangeEvents(version, lines, k, why)
	})
}

// savePlants changes lines of plants.csv.
func (d *Desk) savePlants(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	numbers := numbersIn(f["number"])
	if len(numbers) == 0 {
		return bad(http.StatusUnprocessableEntity, "no plant was chosen", "Tick the plants that are to be changed.")
	}
	one := len(numbers) == 1
	pot, err := potGiven(f, one)
	if err != nil {
		return d.refusedEdit(w, r, s, err)
	}
	k := collection.PlantChange{Group: given(f, "group", one), From: given(f, "from", one), Until: given(f, "until", one), Note: given(f, "note", one), Pot: pot}
	if one {
		k.Name = given(f, "name", true)
	}
	return d.saveLines(w, r, s, func(c *collection.Collection) error {
		return c.ChangePlants(f.Get("version"), numbers, k, strings.TrimSpace(f.Get("reason")))
	})
}

// saveLines lets f change lines. Where the file is another by now, the page is shown anew and nothing is written.
func (d *Desk) saveLines(w http.ResponseWriter, r *http.Request, s *snapshot, f func(c *collection.Collection) error) error {
	to := backTo(r.PostForm)
	n, err := d.changeInputs(s, f)
	switch {
	case errors.Is(err, collection.ErrStale) && wantsJSON(r):
		return &fault{http.StatusConflict, err}
	case errors.Is(err, collection.ErrStale):
		return back(w, r, with(to, "said", "stale"))
	case err != nil:
		return d.refusedEdit(w, r, s, err)
	case n > 0:
		return back(w, r, with(to, "said", "lines-measuring"))
	}
	return back(w, r, with(to, "said", "lines"))
}

// refusedEdit shows the form of a refused edit again, with what was typed; an error that is not about the entry stays one.
func (d *Desk) refusedEdit(w http.ResponseWriter, r *http.Request, s *snapshot, err error) error {
	f := r.PostForm
	var b editBody
	var fail error
	title := "Change plants"
	switch {
	case f.Has("line"):
		title = "Change events"
		b, fail = eventsToEdit(s, f)
		b.Only, _ = strconv.Atoi(f.Get("only"))
	case f.Has("part"):
		title = "Change a part"
		b, fail = partToEdit(s, f)
	default:
		b, fail = plantsToEdit(s, f)
	}
	if fail != nil {
		return err
	}
	if wantsJSON(r) || !b.refuse(f, err) {
		return err
	}
	return d.again(w, s, b.page(title))
}

// given is what a form says of a field. In a form for several lines an empty field means that each line keeps its own.
func given(f url.Values, name string, one bool) *string {
	v := strings.TrimSpace(f.Get(name))
	if _, there := f[name]; !there || v == "" && !one {
		return nil
	}
	return &v
}

// potGiven is what a form says of the pot: nothing, a pot, or (for a single line) none.
func potGiven(f url.Values, one bool) (*record.Pot, error) {
	p, err := formPot(f)
	if _, there := f["pot_top"]; err != nil || !there || !p.Known() && !one {
		return nil, err
	}
	return &p, nil
}

// numbersIn reads whole numbers; what is none is left out.
func numbersIn(list []string) (out []int) {
	seen := map[int]bool{}
	for _, v := range list {
		if n, err := strconv.Atoi(v); err == nil && !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}

// backTo is the page that an edit returns to: a plant's, or that of events and plants.
func backTo(q url.Values) string {
	if n, err := strconv.Atoi(q.Get("back")); err == nil && n > 0 {
		return fmt.Sprintf("/plant/%d", n)
	}
	return "/notes"
}
