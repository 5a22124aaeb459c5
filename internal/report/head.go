package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// headline is what the first screen may list. Lightness and indices that contain it are left to the plants' tables:
// they move with the way light falls on tilted leaves. Of the others each says something that a grower can look at.
var headline = map[string]bool{"leaf_area": true, "green_share": true, "yellow_share": true, "purple_share": true,
	"brown_share": true, "leaf_hue": true, "root_length": true, "root_longest": true, "root_tips": true,
	"root_new": true, "root_gone": true}

// line is one change as the first screen and the tables tell it.
type line struct {
	Title, Mark, Class string
	Say                string // what happened: "leaf area rose", "new root"
	Delta, Percent     string
	From, To           string
	Since              string
	Ratio              float64 // size against its interval
	Bar                int     // Ratio as a width, 0 to 100
	Q                  string
	Smallest           string
	Verdict            string
	Aside              string // the basis, where it is not the last session
}

func newLine(c record.Change) line {
	q := quantity.Of(c.Quantity, c.Unit)
	l := line{Title: q.Title, Mark: verdictMark(c.Verdict), Class: verdictClass(c.Verdict), Delta: q.Delta(c.Change, c.U95),
		From: q.Bare(c.FromValue, c.U95), To: q.Bare(c.ToValue, c.U95), Since: shortDay(c.FromDate), Verdict: string(c.Verdict)}
	if c.Basis != record.BasisLast {
		l.Aside = c.Basis
		if c.Event != "" {
			l.Aside = "after " + c.Event
		}
	}
	if p, ok := q.Percent(c.FromValue, c.Change, c.U95); ok {
		l.Percent = p
	}
	if c.U95 > 0 {
		l.Ratio = math.Abs(c.Change) / c.U95
		l.Bar = int(math.Min(100, 100*l.Ratio/12))
	}
	if c.SmallestDetectable > 0 {
		l.Smallest = q.Size(c.SmallestDetectable)
	}
	l.Q = probability(c.Q)
	l.say(c, q)
	if c.Verdict == record.TooFew {
		l.Delta, l.Percent = "–", ""
	}
	return l
}

// say tells what happened. What is measured on two photos together neither rises nor falls: there is so much of it.
func (l *line) say(c record.Change, q quantity.Info) {
	l.Say = l.Title + " " + l.Verdict
	words, ok := map[string]string{"root_new": "new root", "root_gone": "root no longer seen", "colour_change": "leaf colours moved by"}[c.Quantity]
	if !ok || c.Verdict != record.Rose && c.Verdict != record.Fell {
		return
	}
	l.Say, l.Delta, l.From = words, q.Value(math.Abs(c.Change), c.U95), ""
	if c.Quantity != "root_new" {
		l.Mark, l.Class = "≠", "moved"
	}
}

// QWords is a false discovery rate for the first screen.
func (l line) QWords() string {
	if strings.HasPrefix(l.Q, "<") {
		return "q\u00a0" + strings.ReplaceAll(l.Q, " ", "\u00a0")
	}
	return "q\u00a0=\u00a0" + l.Q
}

// probability prints p and q values: two digits, and a bound where it is tiny.
func probability(p float64) string {
	switch {
	case math.IsNaN(p):
		return "–"
	case p < 0.001:
		return "< 0.001"
	case p < 0.1:
		return quantity.Number(p, 3)
	}
	return quantity.Number(p, 2)
}

// Main is the size of a change for a headline: relative where that makes sense.
func (l line) Main() string {
	if l.Percent != "" {
		return l.Percent
	}
	return l.Delta
}

// changedPlant is one entry of the first list: a plant's strongest change and what else of it changed.
type changedPlant struct {
	Plant int
	Name  string
	View  string
	Lead  line
	More  []line
}

// survives says whether a change belongs on the first screen.
func (d *Data) survives(c record.Change) bool {
	if c.Basis != d.Basis || !headline[c.Quantity] || (c.Verdict != record.Rose && c.Verdict != record.Fell) {
		return false
	}
	return !math.IsNaN(c.Q) && c.Q <= d.FDR && d.inPeriod(c.ToDate)
}

func (d *Data) inPeriod(date string) bool {
	return (d.From == "" || date >= d.From) && (d.To == "" || date <= d.To)
}

// firstScreen is the caller's choice, or what survives.
func (x *index) firstScreen() []record.Change {
	if x.d.FirstScreen != nil {
		return x.d.FirstScreen
	}
	var out []record.Change
	for _, c := range x.d.Changes {
		if x.d.survives(c) {
			out = append(out, c)
		}
	}
	return out
}

// changed lists what survives, plants by their strongest change against its noise.
func (x *index) changed() []changedPlant {
	by := map[viewKey][]line{}
	for _, c := range x.firstScreen() {
		k := viewKey{c.Plant, c.View}
		by[k] = append(by[k], newLine(c))
	}
	var out []changedPlant
	for k, ls := range by {
		sort.SliceStable(ls, func(i, j int) bool { return ls[i].Ratio > ls[j].Ratio })
		out = append(out, changedPlant{k.plant, x.title(k.plant), viewWords(k.view), ls[0], ls[1:]})
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Lead.Ratio != b.Lead.Ratio {
			return a.Lead.Ratio > b.Lead.Ratio
		}
		return a.Plant < b.Plant || (a.Plant == b.Plant && a.View < b.View)
	})
	return out
}

// look is one entry of what needs a look.
type look struct {
	Plant             int
	Name              string
	Mark, Class, Word string
	Message, Evidence string
	Since             string
}

// needsLook lists the watch rules that fired and are not answered, then those that are near.
func (x *index) needsLook() (open []look, answered int) {
	for _, w := range x.d.Watch {
		if w.Answered {
			answered++
			continue
		}
		l := look{Plant: w.Plant, Name: x.title(w.Plant), Message: upperFirst(w.Rule.Message), Evidence: w.Evidence, Since: shortDay(w.Since)}
		l.Mark, l.Class, l.Word = "◆", "fired", "reached"
		if w.State != "fired" {
			l.Mark, l.Class, l.Word, l.Since = "◇", "near", "near", ""
		}
		if prefix := fmt.Sprintf("%s (%d): ", w.Name, w.Plant); strings.HasPrefix(l.Evidence, prefix) {
			l.Evidence = upperFirst(strings.TrimPrefix(l.Evidence, prefix))
		}
		if l.Evidence == "" {
			q := quantity.Of(w.Rule.Quantity, w.Unit)
			l.Evidence = fmt.Sprintf("%s: %s", upperFirst(q.Title), q.Value(w.Value, w.U95))
		}
		if !strings.HasSuffix(l.Evidence, ".") {
			l.Evidence += "."
		}
		open = append(open, l)
	}
	sort.SliceStable(open, func(i, j int) bool { return open[i].Class == "fired" && open[j].Class != "fired" })
	return open, answered
}

// again is one entry of what to photograph again.
type again struct {
	Plant         int
	Name, View    string
	Mark          string
	What          string
	Hints         []string
	Photo, Last   string
	Counted       bool
	PlantIsListed bool
}

// onePhoto is the kind of gap of a session of one photo: it counts, and is told in one line for all plants.
const onePhoto = "one photo only"

// single is a plant and view with one photo only.
type single struct {
	Plant int
	View  string
}

// singles lists the sessions of one photo; a second one would tell how far photos of the same day differ.
func (x *index) singles() []single {
	var out []single
	seen := map[single]bool{}
	for _, m := range x.d.Missing {
		s := single{m.Plant, strings.ToLower(viewWords(m.View))}
		if _, listed := x.plant[m.Plant]; m.Kind == onePhoto && listed && !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

// photographAgain turns the month's gaps into what to do; what was not counted at all comes first.
func (x *index) photographAgain() []again {
	var out []again
	for _, m := range x.d.Missing {
		if m.Kind == onePhoto {
			continue
		}
		a := again{Plant: m.Plant, Name: x.title(m.Plant), View: strings.ToLower(viewWords(m.View)), Photo: m.Photo,
			Last: shortDay(m.LastDay), Mark: "✕"}
		_, a.PlantIsListed = x.plant[m.Plant]
		if m.View == "" {
			a.View = ""
		}
		if m.Plant == 0 {
			a.Name = "No plant number"
		}
		switch m.Kind {
		case "no photo":
			a.What = "No photo this time."
			a.Mark = "○"
		case "flagged":
			a.Counted = gate.Counts(record.Flagged, m.Reasons)
			a.Mark = "◐"
		}
		for _, r := range m.Reasons {
			g, _ := gate.Lookup(r.Code)
			a.What = strings.TrimSpace(a.What + " " + gate.Text(r))
			if g.Hint != "" {
				a.Hints = append(a.Hints, g.Hint)
			}
		}
		if m.Note != "" {
			a.What = m.Note
		}
		if a.What == "" {
			a.What = upperFirst(m.Kind) + "."
		}
		out = append(out, a)
	}
	out = merged(out)
	sort.SliceStable(out, func(i, j int) bool { return !out[i].Counted && out[j].Counted })
	return out
}

// photosNamed is how many photos of one entry are named before the rest is only counted.
const photosNamed = 4

// merged joins entries that say the same of the same plant: ten photos without a card are one thing to mend.
func merged(list []again) []again {
	type key struct {
		plant           int
		view, what, tip string
	}
	at := map[key]int{}
	var out []again
	names := map[int][]string{}
	for _, a := range list {
		k := key{a.Plant, a.View, a.What, strings.Join(a.Hints, " ")}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, a)
		}
		if a.Photo != "" {
			names[i] = append(names[i], a.Photo)
		}
	}
	for i, n := range names {
		out[i].Photo = strings.Join(n[:min(len(n), photosNamed)], ", ")
		if more := len(n) - photosNamed; more > 0 {
			out[i].Photo += fmt.Sprintf(" and %d more", more)
		}
	}
	return out
}
