package report

import (
	"fmt"
	"sort"

	"phototrack/internal/digest"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// seriesKey names one series.
type seriesKey struct {
	plant    int
	view     record.View
	quantity record.QuantityName
}

// partKey names one series of a part, or of what is counted.
type partKey struct {
	seriesKey
	part string
}

// viewKey names one view of one plant.
type viewKey struct {
	plant int
	view  record.View
}

// index is the data sorted for looking things up; it is made once and only read afterwards.
type index struct {
	d        *Data
	digest   *digest.Digest
	plants   []record.Plant // those that take part, by number
	plant    map[int]record.Plant
	series   map[seriesKey][]record.Session    // by date
	parts    map[partKey][]record.Session      // of parts, by date
	partKeys map[int][]partKey                 // of a plant, in the order of its sessions
	views    map[viewKey][]record.QuantityName // quantities that the view has, in order
	photos   map[viewKey][]*record.Photo       // by time, rejected ones too
	events   map[int][]record.Event
	changes  map[viewKey][]record.Change
	trends   map[seriesKey][]record.Trend
	groupOf  map[string][]int
	effects  map[int][]record.EventEffect
	missing  map[int][]record.Missing
	watching map[int][]record.WatchHit
}

func newIndex(d *Data) *index {
	x := &index{d: d, digest: d.Digest, plant: map[int]record.Plant{}, series: map[seriesKey][]record.Session{}, parts: map[partKey][]record.Session{}, partKeys: map[int][]partKey{}, views: map[viewKey][]record.QuantityName{},
		photos: map[viewKey][]*record.Photo{}, events: map[int][]record.Event{},
		changes: map[viewKey][]record.Change{}, trends: map[seriesKey][]record.Trend{}, groupOf: map[string][]int{},
		effects: map[int][]record.EventEffect{}, missing: map[int][]record.Missing{}, watching: map[int][]record.WatchHit{}}
	x.addPlants()
	x.addSeries()
	x.addPhotos()
	for _, e := range d.Events {
		if d.To == "" || e.Date <= d.To {
			x.events[e.Plant] = append(x.events[e.Plant], e)
		}
	}
	for _, es := range x.events {
		sort.SliceStable(es, func(i, j int) bool { return es[i].Date < es[j].Date })
	}
	for _, c := range d.Changes {
		k := viewKey{c.Plant, c.View}
		x.changes[k] = append(x.changes[k], c)
	}
	for _, t := range d.Trends {
		k := seriesKey{t.Plant, t.View, t.Quantity}
		x.trends[k] = append(x.trends[k], t)
	}
	for _, e := range d.Effects {
		x.effects[e.Plant] = append(x.effects[e.Plant], e)
	}
	for _, m := range d.Missing {
		x.missing[m.Plant] = append(x.missing[m.Plant], m)
	}
	if x.digest == nil { // charts alone
		x.digest = &digest.Digest{From: d.From, To: d.To}
	}
	for _, w := range d.Watch {
		x.watching[w.Plant] = append(x.watching[w.Plant], w)
	}
	return x
}

// addPlants keeps every plant that is listed or has sessions; one that was measured before it was listed has no name.
func (x *index) addPlants() {
	for _, p := range x.d.Plants {
		x.plant[p.Number] = p
	}
	for _, s := range x.d.Sessions {
		if _, ok := x.plant[s.Plant]; !ok {
			x.plant[s.Plant] = record.Plant{Number: s.Plant}
		}
	}
	for _, p := range x.plant {
		x.plants = append(x.plants, p)
		if p.Group != "" {
			x.groupOf[p.Group] = append(x.groupOf[p.Group], p.Number)
		}
	}
	sort.Slice(x.plants, func(i, j int) bool { return x.plants[i].Number < x.plants[j].Number })
	for _, g := range x.groupOf {
		sort.Ints(g)
	}
}

func (x *index) addSeries() {
	for _, s := range x.d.Sessions {
		k := seriesKey{s.Plant, s.View, s.Quantity}
		if s.Part != "" {
			p := partKey{k, s.Part}
			if len(x.parts[p]) == 0 {
				x.partKeys[s.Plant] = append(x.partKeys[s.Plant], p)
			}
			x.parts[p] = append(x.parts[p], s)
			continue
		}
		if len(x.series[k]) == 0 {
			v := viewKey{s.Plant, s.View}
			x.views[v] = append(x.views[v], s.Quantity)
		}
		x.series[k] = append(x.series[k], s)
	}
	for _, ss := range x.parts {
		sort.SliceStable(ss, func(i, j int) bool { return ss[i].Date < ss[j].Date })
	}
	for _, ss := range x.series {
		sort.SliceStable(ss, func(i, j int) bool { return ss[i].Date < ss[j].Date })
	}
	for _, qs := range x.views {
		sort.SliceStable(qs, func(i, j int) bool { return quantity.Order(qs[i]) < quantity.Order(qs[j]) })
	}
}

func (x *index) addPhotos() {
	for i := range x.d.Photos {
		p := &x.d.Photos[i]
		k := viewKey{p.Plant, p.View}
		x.photos[k] = append(x.photos[k], p)
	}
	for _, ps := range x.photos {
		sort.SliceStable(ps, func(i, j int) bool { return ps[i].Taken.Time.Before(ps[j].Taken.Time) })
	}
}

// counted gives a view's photos that count, by time, up to the period's end.
func (x *index) counted(k viewKey) []*record.Photo {
	var out []*record.Photo
	for _, p := range x.photos[k] {
		if gate.Counts(p.Status, p.Reasons) && (x.d.To == "" || p.Taken.Day() <= x.d.To) {
			out = append(out, p)
		}
	}
	return out
}

// change finds the change of one quantity on one basis, the latest where there are several.
func (x *index) change(k viewKey, name record.QuantityName, basis string) (record.Change, bool) {
	var best record.Change
	ok := false
	for _, c := range x.changes[k] {
		if c.Quantity == name && c.Part == "" && c.Basis == basis && (!ok || c.ToDate >= best.ToDate) {
			best, ok = c, true
		}
	}
	return best, ok
}

// last gives a series' latest session.
func (x *index) last(k seriesKey) (record.Session, bool) {
	s := x.series[k]
	if len(s) == 0 {
		return record.Session{}, false
	}
	return s[len(s)-1], true
}

// title is a plant's name, or its number where it has none.
func (x *index) title(n int) string {
	if p := x.plant[n]; p.Name != "" {
		return p.Name
	}
	return fmt.Sprintf("Plant %d", n)
}

// bySHA finds a photo by its content hash; nil for none.
func (x *index) bySHA(sha string) *record.Photo {
	if sha == "" {
		return nil
	}
	for i := range x.d.Photos {
		if x.d.Photos[i].SHA256 == sha {
			return &x.d.Photos[i]
		}
	}
	return nil
}
