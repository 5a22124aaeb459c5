package change

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
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
		groups := map[string][]member{"": members}
		for _, m := range members {
			if m.group != "" {
				groups[m.group] = append(groups[m.group], m)
			}
		}
		for g, list := range groups {
			if g != "" && len(groups) == 2 && len(list) == len(members) {
				continue // the only group: it is the same as all
			}
			p := summary(c, g, list)
			p.Unit = units[c.quantity]
			out = append(out, p)
		}
	}
	sort.Slice(out, func(i, j int) bool {
		x, y := &out[i], &out[j]
		switch {
		case x.Event != y.Event:
			return x.Event < y.Event
		case x.Group != y.Group:
			return x.Group < y.Group
		case x.Quantity != y.Quantity:
			return x.Quantity < y.Quantity
		case x.Part != y.Part:
			return x.Part < y.Part
		default:
			return x.MonthFromEvent < y.MonthFromEvent
		}
	})
	return out
}

// alignOn adds one plant's sessions around one of its events: per month the session nearest to that many months.
func (a *analysis) alignOn(cells map[cell][]member, s *series, e record.Event) {
	before := s.lastUpTo(e.Date)
	if before < 0 || (a.in.From != "" && plusMonths(e.Date, pooledAfter) < a.in.From) {
		return
	}
	base, day := &s.points[before], dayNumber(e.Date)
	best := map[int]int{}
	for i := range s.points {
		if i == before {
			continue
		}
		off := (s.points[i].day - day) / record.MonthDays
		m := int(math.Round(off))
		if i > before && m < 1 {
			m = 1 // days after the event belong to its first month, not to before
		}
		if m < -pooledBefore || m > pooledAfter {
			continue
		}
		if j, ok := best[m]; !ok || math.Abs(off-float64(m)) < math.Abs((s.points[j].day-day)/record.MonthDays-float64(m)) {
			best[m] = i
		}
	}
	for m, i := range best {
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
