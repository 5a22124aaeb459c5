package change

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// partKey names a part of a plant.
type partKey struct {
	plant int
	part  string
}

// readParts makes the parts' kinds known by plant and name.
func (a *analysis) readParts() {
	a.parts = map[partKey]record.Part{}
	for _, p := range a.in.Parts {
		a.parts[partKey{p.Plant, p.Part}] = p
	}
}

// kindOf is the kind of a part, "other" for one that is not listed any more; "" for the whole plant.
func (a *analysis) kindOf(plant int, part string) string {
	if part == "" {
		return ""
	}
	if p, ok := a.parts[partKey{plant, part}]; ok {
		return p.Kind
	}
	return "other"
}

// addCounts makes series of what was typed: no view, no interval.
func (a *analysis) addCounts() {
	kd := kinds(a.in.Settings)[record.CountOf]
	list := append([]record.Count(nil), a.in.Counts...)
	sort.SliceStable(list, func(i, j int) bool { return list[i].Date < list[j].Date })
	for _, c := range list {
		if a.in.To != "" && c.Date > a.in.To {
			continue
		}
		id := key{shotKey{c.Plant, ""}, record.CountOf, c.What}
		s := a.at[id]
		if s == nil {
			s = &series{key: id, kind: kd, unit: "1", scale: 1, df: math.Inf(1), k95: tQuantile(math.Inf(1))}
			a.at[id] = s
		}
		p := point{Session: record.Session{Plant: c.Plant, Date: c.Date, Quantity: record.CountOf, Part: c.What, Unit: "1", Value: float64(c.Count)},
			day: dayNumber(c.Date), y: float64(c.Count)}
		if n := len(s.points); n > 0 && s.points[n-1].Date == c.Date {
			s.points[n-1] = p // the later line of a day counts
			continue
		}
		s.points = append(s.points, p)
	}
}

// counterpart is the series of another plant that a plant's series is compared with: the same quantity; of a part, that of
// the part with the same name and kind, else of the plant's first part of that kind. nil for none.
func (a *analysis) counterpart(s *series, plant int) *series {
	if s.part == "" {
		return a.at[key{shotKey{plant, s.view}, s.quantity, ""}]
	}
	kind := a.kindOf(s.plant, s.part)
	if o := a.at[key{shotKey{plant, s.view}, s.quantity, s.part}]; o != nil && a.kindOf(plant, s.part) == kind {
		return o
	}
	var best *series
	for _, o := range a.series { // in order of their names
		if best == nil && o.plant == plant && o.view == s.view && o.quantity == s.quantity && o.part != "" && a.kindOf(plant, o.part) == kind {
			best = o
		}
	}
	return best
}

// watchedSeries are a plant's series that a rule looks at: of a part's quantity those of the part named, of the kind named,
// or of all parts.
func (a *analysis) watchedSeries(w record.WatchRule, plant int, part string) (out []*series) {
	for _, view := range []record.View{record.Leaf, record.Root, ""} {
		if s := a.at[key{shotKey{plant, view}, w.Quantity, part}]; s != nil {
			out = append(out, s)
		}
	}
	return out
}

// watchedParts are the parts of a plant that a rule looks at; one empty name for a quantity of the whole plant.
func (a *analysis) watchedParts(w record.WatchRule, plant int) []string {
	if !record.IsOfPart(w.Quantity) {
		return []string{""}
	}
	var out []string
	seen := map[string]bool{}
	for _, s := range a.series {
		if s.plant != plant || s.quantity != w.Quantity || seen[s.part] {
			continue
		}
		if w.Part == "" || record.SamePart(w.Part, s.part) || record.SamePart(w.Part, a.kindOf(plant, s.part)) {
			seen[s.part] = true
			out = append(out, s.part)
		}
	}
	return out
}

// news is what the period brought: parts seen for the first time, parts that are gone, counts that are others.
func (a *analysis) news() []record.News {
	out := slices.Concat(a.newParts(), a.goneParts(), a.newCounts())
	for i := range out {
		out[i].Name = a.names[out[i].Plant]
	}
	rank := map[string]int{"new": 0, "gone": 1, "count": 2}
	slices.SortFunc(out, func(x, y record.News) int {
		return cmp.Or(cmp.Compare(rank[x.Kind], rank[y.Kind]), cmp.Compare(x.Plant, y.Plant), cmp.Compare(x.Part, y.Part))
	})
	return out
}

// newParts are those seen for the first time, on a plant that was photographed before.
func (a *analysis) newParts() (out []record.News) {
	first := map[partKey]string{}
	for _, s := range a.series {
		k := partKey{s.plant, s.part}
		if s.part != "" && !s.kind.exact && (first[k] == "" || s.points[0].Date < first[k]) {
			first[k] = s.points[0].Date
		}
	}
	for k, day := range first {
		if p := a.parts[k]; p.From != "" {
			day = p.From
		}
		if a.inPeriod(day) && a.photographedBefore(k.plant, day) {
			out = append(out, record.News{Plant: k.plant, Part: k.part, Kind: "new", Date: day,
				Sentence: fmt.Sprintf("%s: new: %s, first seen on %s.", who(k.plant, a.names[k.plant]), k.part, words.LongDay(day))})
		}
	}
	return out
}

// goneParts are those that the grower says are gone.
func (a *analysis) goneParts() (out []record.News) {
	for k, p := range a.parts {
		if p.Until != "" && a.inPeriod(p.Until) {
			out = append(out, record.News{Plant: k.plant, Part: k.part, Kind: "gone", Date: p.Until,
				Sentence: fmt.Sprintf("%s: %s is gone since %s.", who(k.plant, a.names[k.plant]), k.part, words.LongDay(p.Until))})
		}
	}
	return out
}

// newCounts are counts that differ from the one before.
func (a *analysis) newCounts() (out []record.News) {
	for _, s := range a.series {
		n := len(s.points)
		if !s.kind.exact || n < 2 {
			continue
		}
		from, to := &s.points[n-2], &s.points[n-1]
		if a.inPeriod(to.Date) && from.Value != to.Value {
			out = append(out, record.News{Plant: s.plant, Part: s.part, Kind: "count", Date: to.Date, From: int(from.Value), To: int(to.Value),
				Sentence: fmt.Sprintf("%s: %d %s on %s; there were %d on %s.", who(s.plant, a.names[s.plant]), int(to.Value), s.part, words.LongDay(to.Date), int(from.Value), words.LongDay(from.Date))})
		}
	}
	return out
}

// photographedBefore says whether there is an earlier photo of the plant: on its first one nothing is new.
func (a *analysis) photographedBefore(plant int, day string) bool {
	for _, view := range []record.View{record.Leaf, record.Root} {
		if s := a.shots[shotKey{plant, view}]; s != nil && s.days[0] < day {
			return true
		}
	}
	return false
}

// words is what is known of a series' quantity, with its part in the title.
func (k key) words(unit string) quantity.Info { return quantity.OfPart(k.quantity, k.part, unit) }
