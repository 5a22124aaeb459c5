// Package digest is the month at one glance, made once for all who tell it: the report's first screen, the desk's month,
// the lines that a run prints and the exported digest.csv say the same because they read it here.
//
// Make is the place to begin. Which plants changed is package change's choice, which holds a false discovery rate over
// the month; here each of them is told with both spans side by side: since the photos before, and over the longer time
// (since the start, since an event, or in a year), and plants are ranked by the surer of the two. A small change of this
// month so never hides a larger one that has built up.
//
// What lacks is sorted by what a person has to do: photograph again, put right in the lists, or nothing.
package digest

import (
	"cmp"
	"math"
	"slices"

	"phototrack/internal/change"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// Digest is what a month comes to.
type Digest struct {
	From, To string
	Plants   []Plant       // those that changed, the surest first
	Lately   int           // how many of them changed since the photos before, too
	News     []record.News // parts that are new or gone, counts that are others
	Waits    []LinesWait   // parts whose lines wait on their latest photo
	Looks    []Look        // watch rules whose limit is reached, then those that are near
	Answered int           // watch rules that were reached and are dealt with
	Again    []Gap         // what must be photographed again
	Lists    []Gap         // what must be put right in the lists
	Aside    []Gap         // what was used with care or left out, and needs nothing now
	Singles  []Single
	Measured int // plants with a photo that counts in the period
	Photos   int // photos of the period that count
	Season   string
}

// Plant is a plant that changed.
type Plant struct {
	Number int
	Name   string
	Lines  []Line // the surest first
}

// Line is one quantity of one view with its two spans. A span that there is nothing to compare over is nil.
type Line struct {
	View     record.View
	Quantity record.QuantityName
	Part     string // the part of the plant, "" for all of it
	Unit     string
	Last     *record.Change // since the photos before
	Long     *record.Change // since the start, since an event, or in a year: the surest of these
}

// Single is a view of which there is one photo only: a second one would narrow its numbers.
type Single struct {
	Plant int
	View  record.View
}

// Input is what a digest is made from.
type Input struct {
	Analysis change.Analysis
	Plants   []record.Plant
	Photos   []record.Photo // without their pictures
	Parts    []record.Part
}

// Make makes the digest of an analysis.
func Make(in Input) Digest {
	an := &in.Analysis
	d := Digest{From: an.From, To: an.To, Season: an.Season, News: an.News}
	d.count(in.Photos)
	d.Plants = changed(an)
	for _, p := range d.Plants {
		if slices.ContainsFunc(p.Lines, func(l Line) bool { return Moved(l.Last) }) {
			d.Lately++
		}
	}
	d.Looks, d.Answered = looks(an.Watch)
	d.gaps(an.Missing, in)
	d.waits(in)
	return d
}

// count counts the period's photos that count, and their plants.
func (d *Digest) count(photos []record.Photo) {
	seen := map[int]bool{}
	for i := range photos {
		p := &photos[i]
		if day := p.Taken.Day(); day != "" && d.holds(day) && gate.Counts(p.Status, p.Reasons) {
			seen[p.Plant] = true
			d.Photos++
		}
	}
	d.Measured = len(seen)
}

// holds says whether a day lies in the period.
func (d *Digest) holds(day string) bool {
	return (d.From == "" || day >= d.From) && (d.To == "" || day <= d.To)
}

// Fired counts the plants of which a watch rule's limit is reached.
func (d *Digest) Fired() int {
	plants := map[int]bool{}
	for _, l := range d.Looks {
		if !l.Near {
			plants[l.Plant] = true
		}
	}
	return len(plants)
}

// Plant finds a plant that changed.
func (d *Digest) Plant(number int) (Plant, bool) {
	for _, p := range d.Plants {
		if p.Number == number {
			return p, true
		}
	}
	return Plant{}, false
}

// Moved says that a comparison shows a change.
func Moved(c *record.Change) bool {
	return c != nil && (c.Verdict == record.Rose || c.Verdict == record.Fell)
}

// Times is how many times its uncertainty a change is; 0 for none.
func Times(c *record.Change) float64 {
	if !Moved(c) || !(c.U95 > 0) {
		return 0
	}
	return math.Abs(c.Change) / c.U95
}

// Surer is the span that shows the change more surely.
func (l *Line) Surer() *record.Change {
	if l.Long == nil || l.Last != nil && Times(l.Last) >= Times(l.Long) {
		return l.Last
	}
	return l.Long
}

// Times is that of the surer span.
func (l *Line) Times() float64 { return Times(l.Surer()) }

// Lead is the surest line.
func (p *Plant) Lead() *Line { return &p.Lines[0] }

// lineKey names what a line is about.
type lineKey struct {
	plant    int
	view     record.View
	quantity record.QuantityName
	part     string
}

// changed gathers the spans of what survives the month's false discovery rate.
func changed(an *change.Analysis) []Plant {
	chosen := map[lineKey]record.Change{}
	for _, c := range an.FirstScreen {
		chosen[lineKey{c.Plant, c.View, c.Quantity, c.Part}] = c
	}
	lines := map[lineKey]*Line{}
	for i := range an.Changes {
		c := &an.Changes[i]
		k := lineKey{c.Plant, c.View, c.Quantity, c.Part}
		if pick, ok := chosen[k]; !ok || c.ToDate != pick.ToDate || math.IsNaN(c.Change) {
			continue
		}
		if lines[k] == nil {
			lines[k] = &Line{View: c.View, Quantity: c.Quantity, Part: c.Part, Unit: c.Unit}
		}
		lines[k].take(c)
	}
	by := map[int]*Plant{}
	for k, pick := range chosen {
		l := lines[k]
		if l == nil || l.Times() == 0 { // the choice itself, where its comparisons are not given
			l = &Line{View: k.view, Quantity: k.quantity, Part: k.part, Unit: pick.Unit}
			l.take(&pick)
		}
		l.settle()
		if by[k.plant] == nil {
			by[k.plant] = &Plant{Number: k.plant, Name: pick.Name}
		}
		by[k.plant].Lines = append(by[k.plant].Lines, *l)
	}
	out := make([]Plant, 0, len(by))
	for _, p := range by {
		slices.SortFunc(p.Lines, func(a, b Line) int {
			return cmp.Or(cmp.Compare(rank(&a), rank(&b)), cmp.Compare(b.Times(), a.Times()), cmp.Compare(quantity.Order(a.Quantity), quantity.Order(b.Quantity)), cmp.Compare(a.View, b.View), cmp.Compare(a.Part, b.Part))
		})
		out = append(out, *p)
	}
	slices.SortFunc(out, func(a, b Plant) int {
		return cmp.Or(cmp.Compare(b.surest(), a.surest()), cmp.Compare(a.Number, b.Number))
	})
	return out
}

// Abstract says that a line is in coordinates of a colour space, or a difference in one: it stands behind what a grower can see
// without knowing them, and pages that have better lines leave it to the plant's own.
func (l *Line) Abstract() bool {
	return l.Quantity == record.LeafA || l.Quantity == record.LeafB || l.Quantity == record.ColourChange
}

func rank(l *Line) int {
	if l.Abstract() {
		return 1
	}
	return 0
}

func (p *Plant) surest() float64 {
	most := 0.0
	for i := range p.Lines {
		most = max(most, p.Lines[i].Times())
	}
	return most
}

// take puts a comparison where it belongs. Of the longer ones the surest stays, since the start where two are as sure.
func (l *Line) take(c *record.Change) {
	if c.Basis == record.BasisLast {
		l.Last = c
		return
	}
	if l.Long == nil || Times(c) > Times(l.Long) || Times(c) == Times(l.Long) && c.Basis == record.BasisBaseline && l.Long.Basis != record.BasisBaseline {
		l.Long = c
	}
}

// settle leaves out a longer span that is the short one over again: with two sessions the one before is the first.
func (l *Line) settle() {
	if l.Last != nil && l.Long != nil && l.Last.FromDate == l.Long.FromDate {
		l.Long = nil
	}
}
