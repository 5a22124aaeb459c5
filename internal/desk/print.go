package desk

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"phototrack/internal/cardpdf"
	"phototrack/internal/collection"
)

// printBody is the page of all that is printed: card, tags, round sheet; and of what a steel rule says of the card.
type printBody struct {
	Papers   []paperChoice
	Plants   int
	Cards    []collection.CardRecord
	Today    string
	Form     map[string]string
	Wrong    wrong
	Measured bool // something has been measured, so that there is a round sheet
}

func newPrint(s *snapshot) printBody {
	b := printBody{Plants: len(s.c.Plants), Cards: s.c.Cards, Today: today(), Measured: len(s.photos) > 0, Form: map[string]string{"date": today()}}
	for _, p := range cardpdf.Papers() {
		b.Papers = append(b.Papers, paperChoice{p.Name, paperTitles[p.Name]})
	}
	return b
}

func (d *Desk) printPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	return d.show(w, r, s, sheet{template: "print.html", title: "Print", here: "print", body: newPrint(s)})
}

// Lengths that a steel rule can say of a print of the card, mm: printers scale by some per cent, not by a third.
const (
	leastRule, mostRule = 0.8, 1.25
)

// addCard notes what a steel rule said of a print.
func (d *Desk) addCard(w http.ResponseWriter, r *http.Request) error {
	f := r.PostForm
	read := func(field, what string, nominal float64) (float64, error) {
		v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(f.Get(field)), ",", ".", 1), 64)
		if err != nil || v < leastRule*nominal || v > mostRule*nominal {
			return 0, bad(http.StatusUnprocessableEntity, what+" is not given", fmt.Sprintf("Write what the steel rule says, in mm: near %g.", nominal))
		}
		return v, nil
	}
	across, err := read("across", "the ruler's length", 100)
	down := 0.0
	if err == nil {
		down, err = read("down", "the rows' distance", 90)
	}
	if err == nil {
		err = d.change(func(c *collection.Collection) error {
			return c.AppendCard(collection.CardRecord{FromDate: f.Get("date"), AcrossMM: across, DownMM: down, Measured: true, Note: strings.TrimSpace(f.Get("note"))})
		})
	}
	if err == nil {
		d.startDue()
		return back(w, r, with("/print", "said", "card"))
	}
	why, ok := refusal(err, map[string]string{"ruler": "across", "rows": "down", "date": "date"})
	if !ok || wantsJSON(r) {
		return err
	}
	s, done, e := d.now(r.Context())
	if e != nil {
		return e
	}
	defer done()
	b := newPrint(s)
	b.Form, b.Wrong = typed(f), why
	return d.again(w, s, sheet{template: "print.html", title: "Print", here: "print", body: b})
}
