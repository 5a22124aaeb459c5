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
}

// editEvents shows the form for one line of events.csv or several.
func (d *Desk) editEvents(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
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
	if q.Get("version") != b.Version || len(b.Events) != len(want) {
		return back(w, r, "/notes?said=stale")
	}
	if len(want) == 0 {
		return bad(http.StatusUnprocessableEntity, "no line was chosen", "Tick the lines that are to be changed.")
	}
	b.One, b.Event = len(want) == 1, b.Events[0]
	return d.show(w, r, s, "edit.html", "Change events", "notes", b)
}

// editPlants shows the form for one plant or several.
func (d *Desk) editPlants(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
	b := editBody{File: collection.PlantsFile, Version: s.c.Version(collection.PlantsFile), Groups: groupsOf(s.c.Plants), Back: backTo(q), Number: q.Get("back")}
	for _, n := range numbersIn(q["number"]) {
		p, ok := s.c.Plant(n)
		if !ok {
			return notFound("that plant is not in plants.csv")
		}
		b.Plants = append(b.Plants, p)
	}
	if len(b.Plants) == 0 {
		return bad(http.StatusUnprocessableEntity, "no plant was chosen", "Tick the plants that are to be changed.")
	}
	b.One, b.Plant = len(b.Plants) == 1, b.Plants[0]
	return d.show(w, r, s, "edit.html", "Change plants", "notes", b)
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
		return err
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
		return err
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
		return err
	case n > 0:
		return back(w, r, with(to, "said", "lines-measuring"))
	}
	return back(w, r, with(to, "said", "lines"))
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
