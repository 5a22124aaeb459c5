package report

import (
	"bytes"
	"html/template"
	"io"
	"sort"
	"strconv"
	"strings"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// roundItem is one plant and view that the next round should photograph.
type roundItem struct {
	Plant      int
	Name, View string
	Group      string
	Last       string   // day of the last photo that counted
	Why        string   // why it is due, where that is not just the month
	Parts      string   // parts to look at and what to count, with what they were last time
	Mend       []string // what to do differently than last time
	Picture    *picture // the last photo, small and whole, so that framing repeats
	jpeg       []byte
}

// roundItems lists what is due, in the order of the plants' numbers: every view that a plant has been photographed in,
// a leaf view for a plant that never was, and a root view for one in a clear pot.
func (r *renderer) roundItems() []roundItem {
	var out []roundItem
	for _, p := range r.x.plants {
		if p.Until != "" && p.Until <= r.x.d.To {
			continue
		}
		for _, v := range []record.View{record.Leaf, record.Root} {
			k := viewKey{p.Number, v}
			if r.x.due(k) {
				out = append(out, r.roundItem(k))
			}
		}
	}
	return out
}

// due says whether a view belongs to the plant's round.
func (x *index) due(k viewKey) bool {
	if len(x.photos[k]) > 0 || len(x.views[k]) > 0 {
		return true
	}
	for _, m := range x.missing[k.plant] {
		if m.View == k.view {
			return true
		}
	}
	if k.view == record.Root {
		return x.potNow(x.plant[k.plant]).Known()
	}
	return len(x.photos[viewKey{k.plant, record.Root}]) == 0
}

func (r *renderer) roundItem(k viewKey) roundItem {
	x := r.x
	it := roundItem{Plant: k.plant, Name: x.title(k.plant), View: words.View(k.view), Group: x.plant[k.plant].Group, Last: "never"}
	if c := x.counted(k); len(c) > 0 {
		last := c[len(c)-1]
		it.Last = words.UnbrokenDay(last.Taken.Day())
		it.Picture, it.jpeg = r.whole(last)
	}
	it.Parts = x.partsToSee(k)
	seen := map[string]bool{}
	for _, m := range x.missing[k.plant] {
		if m.View != k.view && m.View != "" {
			continue
		}
		switch {
		case m.Kind == "no photo":
			it.Why = "not photographed this time"
		case m.Kind == "one photo only":
			it.Last += ", one photo"
		}
		for _, why := range m.Reasons {
			it.addGate(seen, why)
		}
	}
	if ps := x.photos[k]; len(ps) > 0 {
		for _, why := range ps[len(ps)-1].Reasons {
			it.addGate(seen, why)
		}
	}
	return it
}

func (it *roundItem) add(seen map[string]bool, text string) {
	if text != "" && !seen[text] {
		seen[text] = true
		it.Mend = append(it.Mend, text)
	}
}

func (it *roundItem) addGate(seen map[string]bool, why record.Reason) {
	g, ok := gate.Lookup(why.Code)
	if ok && g.Hint != "" {
		it.add(seen, words.Upper(g.Name)+" last time. "+g.Hint)
	}
}

// whole is a photo as it was framed, small.
func (r *renderer) whole(p *record.Photo) (*picture, []byte) {
	pic := r.pics.shown(p, "Last photo of plant "+strings.TrimSpace(r.x.title(p.Plant))+", to repeat its framing", "plain", "overlay")
	if pic == nil {
		return nil, nil
	}
	return pic, decodeDataURI(pic.Src)
}

// roundPage is what the sheet's template sees.
type roundPage struct {
	*Data
	CSS    template.CSS
	Items  []roundItem
	Plants int
	Mend   int
	Facts  []fact
	Advice string
}

func newRound(d Data) (*renderer, roundPage, error) {
	d.defaults()
	r, err := newRenderer(newIndex(&d))
	if err != nil {
		return nil, roundPage{}, err
	}
	r.pics.width = 260
	p := roundPage{Data: &d, Items: r.roundItems(), Advice: roundAdvice}
	seen := map[int]bool{}
	for _, it := range p.Items {
		seen[it.Plant] = true
		if len(it.Mend) > 0 || it.Why != "" {
			p.Mend++
		}
	}
	p.Plants = len(seen)
	p.Facts = []fact{{Figure: strconv.Itoa(p.Plants), Text: words.Noun(p.Plants, "plant", "plants")}, {Figure: strconv.Itoa(len(p.Items)), Text: words.Noun(len(p.Items), "view", "views")}, {Figure: strconv.Itoa(p.Mend), Text: "to do better than last time"}}
	sort.SliceStable(p.Items, func(i, j int) bool { return p.Items[i].Plant < p.Items[j].Plant })
	return r, p, nil
}

// WriteRound writes the next round's sheet as one HTML file: which plants and views are due, the last photo small, what
// to mend, a box to tick and room for a note. Data.To is the day after which the round takes place.
func WriteRound(w io.Writer, d Data) error {
	r, p, err := newRound(d)
	if err != nil {
		return err
	}
	css, err := assets.ReadFile("assets/report.css")
	if err != nil {
		return err
	}
	p.CSS = template.CSS(css)
	var b bytes.Buffer
	if err := r.tmpl.ExecuteTemplate(&b, "round.html", p); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}
