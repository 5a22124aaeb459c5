package digest

import (
	"slices"
	"strings"

	"phototrack/internal/change"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// Gap is something that a month lacks, and what to do about it.
type Gap struct {
	Plant   int // 0: not known
	Name    string
	View    record.View // "": not known, or both
	What    string      // what is wrong, sentences
	Hints   []string    // what to do
	Photos  []PhotoRef  // it is about these
	LastDay string      // the last day with a photo that counts
	Listed  bool        // the plant stands in plants.csv
	Counted bool        // the photos count all the same
}

// PhotoRef names a photo; SHA256 is empty where it is not in the store.
type PhotoRef struct{ Name, SHA256 string }

// onPaper are the reasons that are put right in a list or on the desk and need no new photo. The others need one.
var onPaper = map[record.GateCode]bool{gate.NoTag: true, gate.NoDate: true, gate.UnknownTag: true, gate.CardColours: true, gate.PotGuess: true, gate.Excluded: true, gate.UnknownFormat: true, gate.TwoTags: true}

// viewOf names one view of one plant.
type viewOf struct {
	plant int
	view  record.View
}

// gaps sorts what is missing by what has to be done about it.
func (d *Digest) gaps(list []record.Missing, in Input) {
	listed := map[int]bool{}
	for _, p := range in.Plants {
		listed[p.Number] = true
	}
	refs := newRefs(d, in.Photos)
	views := newLacking(list)
	for _, m := range list {
		g := gapOf(m, listed[m.Plant], refs)
		switch {
		case m.Kind == change.MissingSecond:
			if s := (Single{m.Plant, m.View}); g.Listed && !slices.Contains(d.Singles, s) {
				d.Singles = append(d.Singles, s)
			}
		case m.Kind == change.MissingPhoto && views.refused[viewOf{m.Plant, m.View}]:
			// the photos that did not do say it
		case m.Kind == change.MissingPhoto:
			d.Again = append(d.Again, g)
		case paper(m.Reasons):
			d.Lists = append(d.Lists, g)
		case views.needAgain(m, &g):
			d.Again = append(d.Again, g)
		default:
			d.Aside = append(d.Aside, g)
		}
	}
	d.Again, d.Lists, d.Aside = merged(d.Again), merged(d.Lists), merged(d.Aside)
	slices.SortStableFunc(d.Again, func(a, b Gap) int { return min(1, len(b.Photos)) - min(1, len(a.Photos)) })
}

// lacking are the views of plants without any photo that counts.
type lacking struct {
	views   map[viewOf]bool
	of      map[int][]viewOf // of a plant
	refused map[viewOf]bool  // of these, views with a photo that did not do
}

func newLacking(list []record.Missing) lacking {
	l := lacking{map[viewOf]bool{}, map[int][]viewOf{}, map[viewOf]bool{}}
	for _, m := range list {
		if k := (viewOf{m.Plant, m.View}); m.Kind == change.MissingPhoto {
			l.views[k] = true
			l.of[m.Plant] = append(l.of[m.Plant], k)
		}
	}
	for _, m := range list {
		if m.Kind != change.MissingGood {
			continue
		}
		k := viewOf{m.Plant, m.View}
		if own := l.of[m.Plant]; m.View == "" && len(own) == 1 { // without a card its view is not known, but there is one only
			k = own[0]
		}
		if l.views[k] {
			l.refused[k] = true
		}
	}
	return l
}

// needAgain says that a photo that did not do, or not quite, is all that there is of its view: another is needed.
func (l lacking) needAgain(m record.Missing, g *Gap) bool {
	own := l.views[viewOf{m.Plant, m.View}]
	switch m.Kind {
	case change.MissingGood:
		return own || m.View == "" && len(l.of[m.Plant]) > 0 || !g.Listed && len(l.views) > 0
	case change.MissingCare:
		return own && !g.Counted
	}
	return false
}

// paper says that all reasons are put right on paper; a photo that was left out by hand alone needs nothing.
func paper(reasons []record.Reason) bool {
	open := false
	for _, r := range reasons {
		if !onPaper[r.Code] {
			return false
		}
		open = open || r.Code != gate.Excluded
	}
	return open
}

func gapOf(m record.Missing, listed bool, refs refs) Gap {
	g := Gap{Plant: m.Plant, Name: m.Name, View: m.View, LastDay: m.LastDay, Listed: listed, Counted: m.Kind == change.MissingCare && gate.Counts(record.Flagged, m.Reasons)}
	if m.Photo != "" {
		g.Photos = []PhotoRef{{m.Photo, refs[refKey{m.Photo, m.Plant}]}}
	}
	for _, r := range m.Reasons {
		row, _ := gate.Lookup(r.Code)
		g.What = strings.TrimSpace(g.What + " " + gate.Text(r))
		if row.Hint != "" {
			g.Hints = append(g.Hints, row.Hint)
		}
	}
	if g.What == "" {
		switch {
		case m.Kind == change.MissingPhoto && m.LastDay == "":
			g.What = "No photo yet."
		case m.Kind == change.MissingPhoto:
			g.What = "No photo this time."
		default:
			g.What = sentence(m.Kind)
		}
	}
	return g
}

type refKey struct {
	name  string
	plant int
}

// refs finds photos by name and plant. A name that a camera used twice is that of the later photo in the period.
type refs map[refKey]string

func newRefs(d *Digest, photos []record.Photo) refs {
	out := refs{}
	for i := range photos {
		if p := &photos[i]; p.Taken.Day() == "" || d.holds(p.Taken.Day()) {
			out[refKey{p.Name, p.Plant}] = p.SHA256
		}
	}
	return out
}

// merged joins what says the same of the same plant: ten photos without a card are one thing to mend.
func merged(list []Gap) []Gap {
	type key struct {
		plant      int
		view       record.View
		what, tips string
	}
	at := map[key]int{}
	var out []Gap
	for _, g := range list {
		k := key{g.Plant, g.View, g.What, strings.Join(g.Hints, " ")}
		i, ok := at[k]
		if !ok {
			at[k] = len(out)
			out = append(out, g)
			continue
		}
		out[i].Photos = append(out[i].Photos, g.Photos...)
	}
	return out
}

// photosNamed is how many photos of one entry are named before the rest is only counted.
const photosNamed = 4

// PhotoNames names the photos of an entry, the first few by name.
func (g *Gap) PhotoNames() string {
	var names []string
	for i, p := range g.Photos {
		if i == photosNamed {
			return strings.Join(names, ", ") + " and " + words.Count(len(g.Photos)-i, "more", "more")
		}
		names = append(names, p.Name)
	}
	return strings.Join(names, ", ")
}
