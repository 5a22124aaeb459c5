package change

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// Kinds of gaps.
const (
	MissingPhoto  = "no photo"
	MissingGood   = "rejected"
	MissingCare   = "flagged"
	MissingSecond = "one photo only"
)

// missing lists what the period lacks: plants of the list without a photo that counts, per view they had before; photos
// that did not pass, and why; sessions of one photo only.
func (a *analysis) missing() []record.Missing {
	var out []record.Missing
	for _, p := range a.in.Plants {
		if !a.active(p) {
			continue
		}
		seen := false
		for _, view := range []record.View{record.Leaf, record.Root} {
			if s := a.shots[shotKey{p.Number, view}]; s != nil {
				seen = true
				out = append(out, a.gapsOf(p, s)...)
			}
		}
		if !seen {
			out = append(out, record.Missing{Plant: p.Number, Name: p.Name, Kind: MissingPhoto, Note: "There is no photo of this plant yet."})
		}
	}
	return append(out, a.homeless()...)
}

// active says that a plant was in the collection in the period.
func (a *analysis) active(p record.Plant) bool {
	return (p.From == "" || a.in.To == "" || p.From <= a.in.To) && (p.Until == "" || a.in.From == "" || p.Until >= a.in.From)
}

// gapsOf are the gaps of one plant and view.
func (a *analysis) gapsOf(p record.Plant, s *shots) []record.Missing {
	m := record.Missing{Plant: p.Number, Name: p.Name, View: s.view}
	var out []record.Missing
	counted := 0
	for _, day := range s.days {
		n := 0
		for _, photo := range s.by[day] {
			if counts(photo) {
				n++
				m.LastDay = max(m.LastDay, day)
			}
		}
		if !a.inPeriod(day) {
			continue
		}
		counted += n
		for _, photo := range s.by[day] {
			if len(photo.Reasons) > 0 {
				out = append(out, faulty(m, photo))
			}
		}
		if n == 1 {
			x := m
			x.Kind, x.Photo, x.Note = MissingSecond, firstCounted(s.by[day]), a.secondShot(s.shotKey, day)
			out = append(out, x)
		}
	}
	if counted == 0 {
		m.Kind, m.Note = MissingPhoto, "There is no photo of this view that counts in this period."
		if slices.ContainsFunc(out, func(x record.Missing) bool { return x.Kind == MissingGood }) {
			m.Note = "None of its photos of this view counts in this period: please take it again."
		}
		out = append([]record.Missing{m}, out...)
	}
	for i := range out {
		out[i].LastDay = m.LastDay
	}
	return out
}

// faulty is the gap that a refused or flagged photo leaves.
func faulty(m record.Missing, photo *record.Photo) record.Missing {
	m.Photo, m.Reasons, m.Kind = photo.Name, photo.Reasons, MissingCare
	if photo.Status == record.Rejected {
		m.Kind = MissingGood
	} else if !counts(photo) {
		m.Note = "Its numbers are left out of the series."
	}
	return m
}

func firstCounted(photos []*record.Photo) string {
	for _, p := range photos {
		if counts(p) {
			return p.Name
		}
	}
	return ""
}

// secondShot says what another photo on the same day would have bought.
func (a *analysis) secondShot(k shotKey, day string) string {
	name := record.LeafArea
	if k.view == record.Root {
		name = record.RootLength
	}
	s, n := a.at[key{k, name, ""}], a.noise[name]
	if s == nil || n == nil {
		return "One photo does not show how much photos of the same plant differ; a second one would."
	}
	i := s.lastUpTo(day)
	r := n.repeatability(s.kind, s.points[i].Value)
	if r == 0 {
		return "One photo does not show how much photos of the same plant differ; a second one would."
	}
	u := s.points[i].UVarying
	p := s.points[i]
	p.Photos = 2
	with := s.predicted(&p, n) * s.scale
	k95 := s.k95 * math.Sqrt2
	q := quantity.Of(name, s.unit)
	return fmt.Sprintf("With one photo a session a change of %s shows from %s on, with two from %s on.", q.Title, size(q, k95*u), size(q, k95*with))
}

// homeless are photos of the period that belong to no plant or view: no tag, no card, no date.
func (a *analysis) homeless() []record.Missing {
	var out []record.Missing
	for i := range a.in.Photos {
		p := &a.in.Photos[i]
		day := p.Taken.Day()
		if len(p.Reasons) == 0 || (day != "" && !gate.DateInDoubt(p) && !a.inPeriod(day)) || (p.Plant != 0 && p.View != "" && day != "" && !gate.DateInDoubt(p) && a.listed(p.Plant)) {
			continue
		}
		kind := MissingCare
		if p.Status == record.Rejected {
			kind = MissingGood
		}
		out = append(out, record.Missing{Plant: p.Plant, Name: a.names[p.Plant], View: p.View, Kind: kind, Photo: p.Name, Reasons: p.Reasons})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Photo < out[j].Photo })
	return out
}

func (a *analysis) listed(plant int) bool {
	_, ok := a.names[plant]
	return ok
}
