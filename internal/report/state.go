package report

import (
	"fmt"

	"phototrack/internal/digest"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// state is a plant's row in the table of all plants: what it was last and how that moved.
type state struct {
	Plant       int
	Name, Group string
	View        string
	Size        string // leaf area or root length with interval
	Mark, Class string
	Move        string // since the photos before, in words
	LongMark    string
	LongClass   string
	Long        string // since the start, in words
	Href        string
	Colour      string // shares that are not green, or tips
	Last        string
	Stale       bool // not photographed in this period
	Watch       string
}

// states gives one row for each view of each plant; a plant without any session has a row too.
func (x *index) states() []state {
	var out []state
	for _, p := range x.plants {
		any := false
		for _, v := range []record.View{record.Leaf, record.Root} {
			if r, ok := x.state(viewKey{p.Number, v}); ok {
				out = append(out, r)
				any = true
			}
		}
		if !any && (p.Until == "" || p.Until >= x.d.From) {
			out = append(out, state{Plant: p.Number, Href: plantFile(p.Number), Name: x.title(p.Number), Group: p.Group, Mark: "○", Class: "few", Move: "not measured yet", Size: "–", Colour: "–", Last: "–", Stale: true})
		}
	}
	return out
}

func (x *index) state(k viewKey) (state, bool) {
	main, second := record.LeafArea, record.GreenShare
	if k.view == record.Root {
		main, second = record.RootLength, record.RootTips
	}
	s, ok := x.last(seriesKey{k.plant, k.view, main})
	if !ok {
		return state{}, false
	}
	q := quantity.Of(main, s.Unit)
	r := state{Plant: k.plant, Href: plantFile(k.plant), Name: x.title(k.plant), Group: x.plant[k.plant].Group, View: words.View(k.view),
		Size: q.Value(s.Value, s.U95), Last: words.UnbrokenDay(s.Date), Stale: !x.d.inPeriod(s.Date), Mark: "○", Class: "few", Move: "first photos", Colour: "–"}
	if t, ok := x.last(seriesKey{k.plant, k.view, second}); ok {
		q2 := quantity.Of(second, t.Unit)
		r.Colour = q2.Value(t.Value, t.U95)
		if k.view == record.Root {
			r.Colour += " tips"
		} else {
			r.Colour += " green"
		}
	}
	if len(x.series[seriesKey{k.plant, k.view, main}]) > 1 {
		if c, ok := x.change(k, main, record.BasisLast); ok {
			n := digest.CellOf(&c)
			r.Mark, r.Class, r.Move = n.Mark, n.Class, n.Text
		}
		if c, ok := x.change(k, main, record.BasisBaseline); ok {
			n := digest.CellOf(&c)
			r.LongMark, r.LongClass, r.Long = n.Mark, n.Class, n.Text
		}
	}
	r.Watch = x.watchMark(k)
	return r, true
}

// watchMark is the sign of the rules that wait for a view: one is reached, one is near, none.
func (x *index) watchMark(k viewKey) (mark string) {
	for _, w := range x.watching[k.plant] {
		of := quantity.Of(w.Rule.Quantity, w.Unit).View
		if of == "" { // of a part, or a count: it stands with the plant's first view
			of = record.Leaf
			if _, ok := x.last(seriesKey{k.plant, record.Leaf, record.LeafArea}); !ok {
				of = record.Root
			}
		}
		switch {
		case w.Answered || of != k.view:
		case w.State == "fired":
			return "◆"
		default:
			mark = "◇"
		}
	}
	return mark
}

// fact is one figure of the line under the title.
type fact struct {
	Figure, Text string
	Href         string // where it is told, "" for nowhere
}

// facts counts the month.
func (x *index) facts() []fact {
	d, n := x.digest, quantity.Number
	changed := fact{Figure: n(float64(len(d.Plants)), 0), Text: "changed", Href: "#changed"}
	if d.Lately > 0 && d.Lately < len(d.Plants) {
		changed.Text += fmt.Sprintf(", %d of them this month", d.Lately)
	}
	out := []fact{
		{n(float64(d.Measured), 0), words.Noun(d.Measured, "plant measured", "plants measured"), "#plants"},
		{n(float64(d.Photos), 0), words.Noun(d.Photos, "photo used", "photos used"), ""},
		changed,
		{n(float64(d.Fired()), 0), words.Noun(d.Fired(), "needs a look", "need a look"), "#look"},
		{n(float64(len(d.Again)), 0), "to photograph again", "#again"},
	}
	if lines := d.LinesCount(); lines > 0 {
		out = append(out, fact{n(float64(lines), 0), words.Noun(lines, "part to measure", "parts to measure"), "#waits"})
	}
	if lists := len(d.Lists) + len(x.d.Faults); lists > 0 {
		out = append(out, fact{n(float64(lists), 0), "to put right in your lists", "#lists"})
	}
	return out
}

// next says when the next round is due and of what, where the caller did not.
func (x *index) next() []string {
	last, plants := "", map[int]bool{}
	for _, s := range x.d.Sessions {
		if x.d.inPeriod(s.Date) {
			last = max(last, s.Date)
		}
	}
	views := 0
	for _, p := range x.plants {
		if p.Until != "" && p.Until <= x.d.To {
			continue
		}
		for _, v := range []record.View{record.Leaf, record.Root} {
			if x.due(viewKey{p.Number, v}) {
				plants[p.Number] = true
				views++
			}
		}
	}
	t, ok := words.Day(last)
	if !ok || views == 0 {
		return nil
	}
	return []string{"Next round: about " + words.Date(t.AddDate(0, 1, 0)) + ", " + words.Count(len(plants), "plant", "plants") + ", " +
		words.Count(views, "view", "views") + ". Two photos of each view make every ± smaller.",
		"The round sheet (phototrack round) shows the last photo of each, so that you can frame it the same way."}
}
