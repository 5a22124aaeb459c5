package desk

import (
	"net/http"
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// notesBody is the page of events and plants.
type notesBody struct {
	Kinds  []string
	Groups []string
	Plants []record.Plant
	Events []collection.EventLine // the newest first
	Next   int

	EventsVersion string // of the file that Events are from

	Today string
	For   string

	Event      map[string]string // what was typed into a form that was refused
	NewPlant   map[string]string
	EventWrong wrong
	PlantWrong wrong
}

func (d *Desk) notesPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	return d.show(w, r, s, sheet{template: "notes.html", title: "Events and plants", here: "notes", body: newNotes(r, s)})
}

func newNotes(r *http.Request, s *snapshot) notesBody {
	b := notesBody{Kinds: collection.EventKinds(), Plants: s.c.Plants, Today: today(), Next: 1, For: r.URL.Query().Get("for")}
	b.Groups, b.EventsVersion = groupsOf(s.c.Plants), s.c.Version(collection.EventsFile)
	for _, p := range s.c.Plants {
		b.Next = max(b.Next, p.Number+1)
	}
	if n, err := strconv.Atoi(r.URL.Query().Get("number")); err == nil {
		b.Next = n
	}
	b.Events = slices.Clone(s.c.EventLines)
	slices.Reverse(b.Events) // of one day, too, the line that was added last comes first
	sort.SliceStable(b.Events, func(i, j int) bool { return b.Events[i].Date > b.Events[j].Date })
	return b
}

// refused shows the page of events and plants again with a refused entry as it was typed and why; ok is false where the
// error is not about the entry.
func (d *Desk) refused(w http.ResponseWriter, r *http.Request, err error, plant bool) (ok bool, fail error) {
	why, ok := refusal(err, map[string]string{"date": "date", "number": "number", "plant": "plants", "group": "plants", "pot": "pot_top", "event": "event", "tag": "number"})
	if !ok || wantsJSON(r) {
		return false, nil
	}
	s, done, fail := d.now(r.Context())
	if fail != nil {
		return true, fail
	}
	defer done()
	b := newNotes(r, s)
	if plant {
		b.NewPlant = typed(r.PostForm)
		if why.Field == "plants" {
			why.Field = "number"
		}
		b.PlantWrong = why
	} else {
		b.Event, b.EventWrong = typed(r.PostForm), why
	}
	return true, d.again(w, s, sheet{template: "notes.html", title: "Events and plants", here: "notes", body: b})
}

// groupsOf are the names of all groups, in order.
func groupsOf(plants []record.Plant) (out []string) {
	for _, p := range plants {
		if p.Group != "" && !slices.Contains(out, p.Group) {
			out = append(out, p.Group)
		}
	}
	sort.Strings(out)
	return out
}

// addEvent adds a line to events.csv for one plant, a list, ranges or a group. A new pot measures what it concerns anew.
func (d *Desk) addEvent(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	pot, err := formPot(f)
	plants := strings.TrimSpace(strings.Join(f["plants"], " "))
	if err == nil {
		_, err = d.changeInputs(s, func(c *collection.Collection) error {
			_, err := c.AppendEvent(f.Get("date"), plants, f.Get("event"), strings.TrimSpace(f.Get("note")), pot)
			return err
		})
	}
	if err != nil {
		if ok, fail := d.refused(w, r, err, false); ok {
			return fail
		}
		return err
	}
	to := "/notes"
	if n, err := strconv.Atoi(f.Get("back")); err == nil {
		to = "/plant/" + itoa(n)
	}
	if f.Get("date") > today() {
		return back(w, r, with(to, "said", "event-future"))
	}
	return back(w, r, with(to, "said", "event"))
}

// formPot reads the three sizes of a pot; all empty is no pot.
func formPot(f url.Values) (record.Pot, error) {
	text := ""
	for _, name := range []string{"pot_top", "pot_bottom", "pot_height"} {
		if v := strings.TrimSpace(f.Get(name)); v != "" {
			text += v + " "
		}
	}
	if text == "" {
		return record.Pot{}, nil
	}
	p, err := collection.ParsePot(strings.TrimSpace(text))
	if err != nil {
		return p, bad(http.StatusUnprocessableEntity, "a clear pot needs three sizes in mm", "Give the inside diameters at rim and base and the height of the wall.")
	}
	return p, nil
}

// addPlant adds a line to plants.csv. Photos whose tag was unknown until now are measured anew.
func (d *Desk) addPlant(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	n, err := strconv.Atoi(strings.TrimSpace(f.Get("number")))
	if err != nil {
		err = bad(http.StatusUnprocessableEntity, "a plant needs a number", "Write the number of its tag.")
	}
	var pot record.Pot
	if err == nil {
		pot, err = formPot(f)
	}
	if err == nil {
		p := record.Plant{Number: n, Name: strings.TrimSpace(f.Get("name")), Group: strings.TrimSpace(f.Get("group")), Pot: pot,
			From: f.Get("from"), Note: strings.TrimSpace(f.Get("note"))}
		err = d.change(func(c *collection.Collection) error { return c.AppendPlant(p) })
	}
	if err != nil {
		if ok, fail := d.refused(w, r, err, true); ok {
			return fail
		}
		return err
	}
	d.startDue()
	return back(w, r, with("/notes", "said", "plant"))
}

// answerRule marks a watch rule as dealt with for a plant.
func (d *Desk) answerRule(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	n, _ := strconv.Atoi(f.Get("plant"))
	line, _ := strconv.Atoi(f.Get("rule"))
	err := d.change(func(c *collection.Collection) error {
		for _, rule := range c.Rules {
			if _, listed := c.Plant(n); listed && rule.Line == line {
				return c.AppendAnswer(n, rule, strings.TrimSpace(f.Get("note")))
			}
		}
		return bad(http.StatusConflict, "watch.csv has no such rule any more", "Load the page again.")
	})
	if err != nil {
		return err
	}
	to := "/"
	if f.Get("back") == "plant" {
		to = "/plant/" + itoa(n)
	}
	return back(w, r, with(to, "said", "answered"))
}
