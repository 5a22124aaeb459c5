package desk

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// editPart shows the form for one line of parts.csv.
func (d *Desk) editPart(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b, err := partToEdit(s, r.URL.Query())
	if err != nil {
		return err
	}
	return d.show(w, r, s, b.page("Change a part"))
}

// partToEdit is the line of parts.csv that a form is about: a plant's number and the part's name.
func partToEdit(s *snapshot, q url.Values) (editBody, error) {
	n, err := strconv.Atoi(q.Get("plant"))
	p, ok := s.c.Part(n, q.Get("part"))
	if err != nil || !ok {
		return editBody{}, notFound("that part is not in parts.csv")
	}
	b := editBody{File: collection.PartsFile, Version: s.c.Version(collection.PartsFile), One: true, Part: p, Kinds: record.PartKinds(), Back: backTo(url.Values{"back": {itoa(n)}}), Number: itoa(n)}
	b.Typed = map[string]string{"kind": p.Kind, "name": p.Name, "from": p.From, "until": p.Until, "note": p.Note}
	return b, nil
}

// savePart changes a line of parts.csv.
func (d *Desk) savePart(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	n, err := strconv.Atoi(f.Get("plant"))
	if err != nil {
		return notFound("that plant is not in plants.csv")
	}
	k := collection.PartChange{Kind: given(f, "kind", true), Name: given(f, "name", true), From: given(f, "from", true), Until: given(f, "until", true), Note: given(f, "note", true)}
	return d.saveLines(w, r, s, func(c *collection.Collection) error {
		return c.ChangePart(f.Get("version"), n, f.Get("part"), k, strings.TrimSpace(f.Get("reason")))
	})
}

// saveCount writes how many of something there were on a plant on a day: a new line of counts.csv, or that day's line anew.
func (d *Desk) saveCount(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	n, err := strconv.Atoi(f.Get("plant"))
	if err != nil {
		return notFound("that plant is not in plants.csv")
	}
	err = d.change(func(c *collection.Collection) error {
		return c.SetCount(f.Get("date"), n, f.Get("what"), f.Get("count"), strings.TrimSpace(f.Get("note")))
	})
	if why, ok := refusal(err, map[string]string{"date": "date", "counted": "what", "zero": "count", "number": "count", "count": "count"}); ok && !wantsJSON(r) {
		return d.plantAgain(w, r, s, n, countForm{typed(f), why})
	}
	if err != nil {
		return err
	}
	return back(w, r, "/plant/"+itoa(n)+"?said=counted#v-parts")
}

// countForm is the form for a count: what was typed, and why it was refused.
type countForm struct {
	Typed map[string]string
	Wrong wrong
}
