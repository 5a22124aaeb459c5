package change

import (
	"sort"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// Comparer compares any two days of a plant, with the noise that the collection shows.
type Comparer struct{ a *analysis }

// NewComparer prepares comparisons over the photos of the input; its period is not looked at.
func NewComparer(in Input) *Comparer {
	in.From, in.To = "", ""
	if in.Settings.EventMonths == 0 {
		in.Settings = DefaultSettings()
	}
	a := &analysis{in: in, names: map[int]string{}, groups: map[int]string{}, events: map[int][]record.Event{}, at: map[key]*series{},
		splits: map[int][]record.Event{}, nulls: &nulls{}}
	for _, p := range in.Plants {
		a.names[p.Number], a.groups[p.Number] = p.Name, p.Group
	}
	a.split()
	a.buildSeries()
	a.estimateNoise()
	return &Comparer{a}
}

// Between gives the changes of a plant's view from one day to another, of all quantities, those of its parts too,
// that both days have, in the order in which they are shown.
func (c *Comparer) Between(plant int, view record.View, from, to string) (out []record.Change) {
	for _, s := range c.a.series {
		if s.plant != plant || s.view != view {
			continue
		}
		i, j := s.lastUpTo(from), s.lastUpTo(to)
		if i < 0 || j < 0 || s.points[i].Date != from || s.points[j].Date != to || i == j {
			continue
		}
		out = append(out, c.a.compare(s, &s.points[i], &s.points[j], record.BasisLast, ""))
	}
	sort.SliceStable(out, func(i, j int) bool { return quantity.Order(out[i].Quantity) < quantity.Order(out[j].Quantity) })
	return out
}
