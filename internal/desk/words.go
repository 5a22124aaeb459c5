package desk

import (
	"fmt"
	"strings"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

func hintOf(err error) string { return fsx.HintOf(err) }

// reason is a gate in words.
type reason struct {
	Text string `json:"text"`
	Hint string `json:"hint"`
}

func reasonsOf(list []record.Reason) (out []reason) {
	for _, r := range list {
		g, _ := gate.Lookup(r.Code)
		out = append(out, reason{gate.Text(r), g.Hint})
	}
	return out
}

// headline are the quantities that speak first, by view.
var headline = map[record.View][]record.QuantityName{
	record.Leaf: {record.LeafArea, record.GreenShare, record.YellowShare, record.PurpleShare, record.BrownShare, record.LeafHue},
	record.Root: {record.RootLength, record.RootLongest, record.RootTips, record.WallCoverShare},
}

// number is a measured value in words.
type number struct {
	Name  record.QuantityName `json:"name"`
	Part  string              `json:"part,omitempty"` // that it is of, "" for the whole plant
	Title string              `json:"title"`
	Text  string              `json:"text"`
	Means string              `json:"means"`
	First bool                `json:"first"` // speaks first
}

// numbersOf are a photo's quantities, those that speak first first.
func numbersOf(p *record.Photo) (out []number) {
	first := map[record.QuantityName]bool{}
	add := func(q record.Quantity) {
		k := quantity.OfPart(q.Name, q.Part, q.Unit)
		out = append(out, number{q.Name, q.Part, words.Upper(k.Title), k.Value(q.Value, q.U95), k.Means, first[q.Name] || q.Part != ""})
	}
	for _, n := range headline[p.View] {
		if q, ok := p.Find(n); ok {
			first[n] = true
			add(q)
		}
	}
	for _, q := range p.Quantities { // what the grower drew comes before what nobody asked for
		if q.Part != "" {
			add(q)
		}
	}
	for _, q := range p.Quantities {
		if !first[q.Name] && q.Part == "" {
			add(q)
		}
	}
	return out
}

// summary is a photo's outcome on one line.
func summary(p *record.Photo) string {
	var parts []string
	if p.Plant > 0 {
		parts = append(parts, "plant "+itoa(p.Plant))
	}
	if d := p.Taken.Day(); d != "" {
		parts = append(parts, words.LongDay(d))
	}
	if h := headline[p.View]; len(h) > 0 {
		if q, ok := p.Find(h[0]); ok {
			k := quantity.Of(q.Name, q.Unit)
			parts = append(parts, k.Title+" "+k.Value(q.Value, q.U95))
		}
	}
	return strings.Join(parts, ", ")
}

// ofPlant is a sentence that names its plant first, without that name where the plant is plain: "leaf area rose by ...".
func ofPlant(plant int, sentence string) string {
	if _, rest, ok := strings.Cut(sentence, fmt.Sprintf("(%d): ", plant)); ok {
		return rest
	}
	return sentence
}

// fieldWords are the fields of corrections.csv for a reader.
func fieldWords(field string) string {
	if w, ok := map[string]string{collection.FieldPlant: "plant number", collection.FieldOffset: "plant before the card, mm", collection.FieldPot: "clear pot, mm",
		collection.FieldExclude: "does not count", collection.FieldInclude: "counts again", collection.FieldAnswer: "watch rule dealt with",
		collection.FieldEventLine: "event", collection.FieldPlantLine: "plant", collection.FieldRuleLine: "watch rule"}[field]; ok {
		return w
	}
	return field
}

// moment is a time of corrections.csv for a reader: 7 March 2026, 10:15.
func moment(rfc3339 string) string {
	t, err := time.Parse(time.RFC3339, rfc3339)
	if err != nil {
		return rfc3339
	}
	return words.Moment(t)
}

func plantTitle(p record.Plant) string {
	if p.Name != "" {
		return p.Name
	}
	return "Plant " + itoa(p.Number)
}

// after is what follows the first mark in a text; all of it where there is none.
func after(mark, text string) string {
	if _, rest, ok := strings.Cut(text, mark); ok {
		return rest
	}
	return text
}
