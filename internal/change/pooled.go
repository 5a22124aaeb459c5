package change

import (
	"cmp"
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// Pooled summaries look so many months before and after an event.
const (
	pooledBefore = 3
	pooledAfter  = 6
	bootstraps   = 999
)

// member is one plant's change at one month from its event.
type member struct {
	group   string
	change  float64 // from the last session before the event; relative where growth is
	verdict record.Verdict
}

type cell struct {
	event    string
	quantity record.QuantityName
	part     string // kind of part
	month    int
}

// pooled summarises each kind of event over all plants that had it, aligned on its date: in all groups (Group empty) and
// by group. Areas and lengths are compared as shares of the value before, so that small and large plants count alike.
func (a *analysis) pooled() []record.PooledEffect {
	cells := map[cell][]member{}
	units := map[record.QuantityName]string{}
	for _, s := range a.series {
		if !s.kind.first {
			continue
		}
		units[s.quantity] = s.unit
		if s.kind.relative {
			units[s.quantity] = "relative"
		}
		for _, e := range a.splitting(s.plant) {
			a.alignOn(cells, s, e)
		}
	}
	var out []record.PooledEffect
	for c, members := range cells {
		for g, list := range byGroup(members) {
			p := summary(c, g, list)
			p.Unit = units[c.quantity]
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(x, y record.PooledEffect) int {
		return cmp.Or(cmp.Compare(x.Event, y.Event), cmp.Compare(x.Group, y.Group), cmp.Compare(x.Quantity, y.Quantity), cmp.Compare(x.Part, y.Part),
			cmp.Compare(x.MonthFromEvent, y.MonthFromEvent))
	})
	return out
}

// byGroup are all members, under the empty name, and those of each group; a group that is all of them is not named again.
func byGroup(members []member) map[string][]member {
	groups := map[string][]member{"": members}
	for _, m := range members {
		if m.group != "" {
			groups[m.group] = append(groups[m.group], m)
		}
	}
	maps.DeleteFunc(groups, func(g string, list []member) bool { return g != "" && len(list) == len(members) })
	return groups
}

// alignOn adds one plant's sessions around one of its events: per month the session nearest to that many months.
func (a *analysis) alignOn(cells map[cell][]member, s *series, e record.Event) {
	before := s.lastUpTo(e.Date)
	if before < 0 || (a.in.From != "" && plusMonths(e.Date, pooledAfter) < a.in.From) {
		return
	}
	base := &s.points[before]
	for m, i := range s.nearestToMonths(dayNumber(e.Date), before) {
		p := &s.points[i]
		d := s.kind.difference(base.Value, p.Value)
		half := s.k95 * a.uncertainty(s, base, p)
		v := record.NoChange
		if d > half {
			v = record.Rose
		} else if d < -half {
			v = record.Fell
		}
		if s.kind.relative {
			if !(base.Value > 0) {
				continue
			}
			d /= base.Value
		}
		c := cell{e.Kind, s.quantity, a.kindOf(s.plant, s.part), m}
		cells[c] = append(cells[c], member{a.groups[s.plant], d, v})
	}
}

// nearestToMonths are the sessions nearest to whole months from a day, by that number of months; before is the last session up to it.
func (s *series) nearestToMonths(day float64, before int) map[int]int {
	best := map[int]int{}
	months := func(i int) float64 { return (s.points[i].day - day) / record.MonthDays }
	for i := range s.points {
		if i == before {
			continue
		}
		off := months(i)
		m := int(math.Round(off))
		if i > before && m < 1 {
			m = 1 // days after the event belong to its first month, not to before
		}
		if m < -pooledBefore || m > pooledAfter {
			continue
		}
		if j, ok := best[m]; !ok || math.Abs(off-float64(m)) < math.Abs(months(j)-float64(m)) {
			best[m] = i
		}
	}
	return best
}

// summary is the median with a percentile interval of the bootstrap over plants (Efron 1979), drawn from a generator
// that depends on the cell alone, so that a report made again says the same. Fewer than three plants have no interval.
func summary(c cell, group string, list []member) record.PooledEffect {
	v := make([]float64, len(list))
	p := record.PooledEffect{Event: c.event, Group: group, Quantity: c.quantity, Part: c.part, MonthFromEvent: c.month, Plants: len(list),
		Low: math.NaN(), High: math.NaN()}
	for i, m := range list {
		v[i] = m.change
		switch m.verdict {
		case record.Rose:
			p.ShareRose += 1 / float64(len(list))
		case record.Fell:
			p.ShareFell += 1 / float64(len(list))
		}
	}
	sort.Float64s(v)
	p.MedianChange = uncert.MedianSorted(v)
	if len(v) < 3 {
		return p
	}
	h := fnv.New64a()
	h.Write([]byte(c.event + "\x00" + group + "\x00" + string(c.quantity) + c.part))
	rng := rand.New(rand.NewPCG(h.Sum64(), uint64(c.month+1000)))
	medians := make([]float64, bootstraps)
	count := make([]int, len(v))
	for b := range medians {
		medians[b] = drawnMedian(rng, v, count)
	}
	sort.Float64s(medians)
	p.Low, p.High = medians[(bootstraps+1)/40-1], medians[bootstraps-(bootstraps+1)/40]
	return p
}

// drawnMedian is the median of a sample with replacement from sorted values, found by counting.
func drawnMedian(rng *rand.Rand, v []float64, count []int) float64 {
	clear(count)
	n := len(v)
	for range v {
		count[rng.IntN(n)]++
	}
	seen, low := 0, math.NaN()
	for i, k := range count {
		seen += k
		if math.IsNaN(low) && seen > (n-1)/2 {
			low = v[i]
		}
		if seen > n/2 {
			return (low + v[i]) / 2
		}
	}
	return low
}
