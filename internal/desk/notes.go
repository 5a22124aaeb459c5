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
}

func (d *Desk) notesPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
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
	return d.show(w, r, s, "notes.html", "Events and plants", "notes", b)
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
	if err != nil {
		return err
	}
	plants := strings.TrimSpace(strings.Join(f["plants"], " "))
	_, err = d.changeInputs(s, func(c *collection.Collection) error {
		_, err := c.AppendEvent(f.Get("date"), plants, f.Get("event"), strings.TrimSpace(f.Get("note")), pot)
		return err
	})
	if err != nil {
		return err
	}
	to := "/notes"
	if n, err := strconv.Atoi(f.Get("back")); err == nil {
		to = "/plant/" + itoa(n)
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
		return bad(http.StatusUnprocessableEntity, "a plant needs a number", "Write the number of its tag.")
	}
	pot, err := formPot(f)
	if err != nil {
		return err
	}
	p := record.Plant{Number: n, Name: strings.TrimSpace(f.Get("name")), Group: strings.TrimSpace(f.Get("group")), Pot: pot,
		From: f.Get("from"), Note: strings.TrimSpace(f.Get("note"))}
	if err := d.change(func(c *collection.Collection) error { return c.AppendPlant(p) }); err != nil {
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
