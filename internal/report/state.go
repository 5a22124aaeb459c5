package report

import (
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// state is a plant's row in the table of all plants: what it was last and how that moved.
type state struct {
	Plant       int
	Name, Group string
	View        string
	Size        string // leaf area or root length with interval
	Mark, Class string
	Move        string // since last session, in words
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
			out = append(out, state{Plant: p.Number, Name: x.title(p.Number), Group: p.Group, Mark: "○", Class: "few", Move: "not measured yet", Size: "–", Colour: "–", Last: "–", Stale: true})
		}
	}
	return out
}

// aMonthOrTwo is the longest period, in days, whose table of plants compares with the last session; a longer one, a
// year's summary, compares with the baseline.
const aMonthOrTwo = 62

// stateBasis is what the table of all plants compares with.
func (d *Data) stateBasis() string {
	from, okA := day(d.From)
	to, okB := day(d.To)
	if okA && okB && to.Sub(from).Hours() > aMonthOrTwo*24 {
		return record.BasisBaseline
	}
	return record.BasisLast
}

func (x *index) state(k viewKey) (state, bool) {
	main, second := "leaf_area", "green_share"
	if k.view == record.Root {
		main, second = "root_length", "root_tips"
	}
	s, ok := x.last(seriesKey{k.plant, k.view, main})
	if !ok {
		return state{}, false
	}
	q := quantity.Of(main, s.Unit)
	r := state{Plant: k.plant, Name: x.title(k.plant), Group: x.plant[k.plant].Group, View: viewWords(k.view),
		Size: q.Value(s.Value, s.U95), Last: shortDay(s.Date), Stale: !x.d.inPeriod(s.Date), Mark: "○", Class: "few", Move: "first session", Colour: "–"}
	if t, ok := x.last(seriesKey{k.plant, k.view, second}); ok {
		q2 := quantity.Of(second, t.Unit)
		r.Colour = q2.Value(t.Value, t.U95)
		if k.view == record.Root {
			r.Colour += " tips"
		} else {
			r.Colour += " green"
		}
	}
	if c, ok := x.change(k, main, x.d.stateBasis()); ok && len(x.series[seriesKey{k.plant, k.view, main}]) > 1 {
		l := newLine(c)
		r.Mark, r.Class, r.Move = l.Mark, l.Class, l.Verdict
		if c.Verdict == record.Rose || c.Verdict == record.Fell {
			r.Move = l.Main()
		}
	}
	for _, w := range x.watching[k.plant] {
		if !w.Answered && quantity.Of(w.Rule.Quantity, w.Unit).View == k.view {
			switch {
			case w.State == "fired":
				r.Watch = "◆"
			case r.Watch == "":
				r.Watch = "◇"
			}
		}
	}
	return r, true
}

// fact is one figure of the line under the title.
type fact struct {
	Figure string
	Text   string
}

// used counts the period's photos that count, and their plants.
func (x *index) used() (plants, photos int) {
	seen := map[int]bool{}
	for i := range x.d.Photos {
		p := &x.d.Photos[i]
		if x.d.inPeriod(p.Taken.Day()) && gate.Counts(p.Status, p.Reasons) {
			seen[p.Plant] = true
			photos++
		}
	}
	return len(seen), photos
}

// facts counts the month.
func (x *index) facts(changed []changedPlant, looks []look, agains []again) []fact {
	plants, photos := x.used()
	moved := map[int]bool{} // a plant may have changed in both views
	for _, c := range changed {
		moved[c.Plant] = true
	}
	n := quantity.Number
	return []fact{
		{n(float64(plants), 0), plural(plants, "plant measured", "plants measured")},
		{n(float64(photos), 0), plural(photos, "photo used", "photos used")},
		{n(float64(len(moved)), 0), "really changed"},
		{n(float64(len(looks)), 0), plural(len(looks), "needs a look", "need a look")},
		{n(float64(len(agains)), 0), "to photograph again"},
	}
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
	t, ok := day(last)
	if !ok || views == 0 {
		return nil
	}
	return []string{"Next round: about " + t.AddDate(0, 1, 0).Format("2 January 2006") + ", " + count(len(plants), "plant", "plants") + ", " +
		count(views, "view", "views") + ". Two photos of each view make every ± smaller.",
		"The round sheet (phototrack round) shows the last photo of each, so that you can frame it the same way."}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
