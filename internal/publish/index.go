package publish

import (
	"sort"

	"phototrack/internal/change"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// plantView names one view of one plant.
type plantView struct {
	plant int
	view  record.View
}

// shelf holds the photos that count, by plant and view and in order of their days: the first of each session.
type shelf map[plantView][]*record.Photo

func newShelf(photos []record.Photo) shelf {
	s := shelf{}
	for i := range photos {
		if p := &photos[i]; p.Status != record.Rejected && p.Taken.Day() != "" {
			k := plantView{p.Plant, p.View}
			s[k] = append(s[k], p)
		}
	}
	for k, list := range s {
		sort.SliceStable(list, func(i, j int) bool { return list[i].Taken.Day() < list[j].Taken.Day() })
		first := list[:0]
		for _, p := range list {
			if n := len(first); n == 0 || first[n-1].Taken.Day() != p.Taken.Day() {
				first = append(first, p)
			}
		}
		s[k] = first
	}
	return s
}

// counted gives a plant's photos of one view up to a day; "" is no limit.
func (s shelf) counted(plant int, view record.View, to string) []*record.Photo {
	list := s[plantView{plant, view}]
	if to == "" {
		return list
	}
	return list[:sort.Search(len(list), func(i int) bool { return list[i].Taken.Day() > to })]
}

// mainFigures are the quantities under a panel. The first is always shown, the others where they are more than their
// interval.
var mainFigures = map[record.View][]record.QuantityName{
	record.Leaf: {record.LeafArea, record.PurpleShare, record.YellowShare, record.BrownShare},
	record.Root: {record.RootLength, record.RootLongest},
}

// mostFigures is how many lines of values a panel has.
const mostFigures = 3

// figures holds the main values of sessions.
type figures map[figureKey]*record.Session

type figureKey struct {
	plantView
	date     string
	quantity record.QuantityName
}

func newFigures(an change.Analysis) figures {
	wanted := map[record.QuantityName]bool{}
	for _, names := range mainFigures {
		for _, n := range names {
			wanted[n] = true
		}
	}
	f := figures{}
	for i := range an.Sessions {
		if s := &an.Sessions[i]; wanted[s.Quantity] {
			f[figureKey{plantView{s.Plant, s.View}, s.Date, s.Quantity}] = s
		}
	}
	return f
}

// values are the lines under a panel: the session's main numbers with their intervals.
func (f figures) values(p *record.Photo) []string {
	var out []string
	for i, n := range mainFigures[p.View] {
		s, ok := f[figureKey{plantView{p.Plant, p.View}, p.Taken.Day(), n}]
		if ok && (i == 0 || s.Value > s.U95) {
			out = append(out, quantity.Of(s.Quantity, s.Unit).Title+" "+quantity.Of(s.Quantity, s.Unit).Value(s.Value, s.U95))
		}
	}
	return out[:min(mostFigures, len(out))]
}
