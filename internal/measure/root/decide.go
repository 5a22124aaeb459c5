package root

import (
	"math"

	"phototrack/internal/record"
)

// Decision is the grower's word on one stretch: a place of the photo, and whether what runs there is a root.
type Decision struct {
	At   record.Point // px
	Root bool
}

const decisionReachMM = 4.0 // a click this far from a centreline still means it

// decide applies the grower's decisions to the strands nearest to them: to the stretch in doubt where there is one,
// else to the whole strand.
func (f *found) decide(all []Decision) {
	for _, d := range all {
		i, at, ok := f.nearestStrand(d.At)
		if !ok {
			f.ignored++
			continue
		}
		st := &f.strands[i]
		from, to := st.meant(at, f.sh.Step)
		for k := from; k < to; k++ {
			if d.Root {
				st.prob[k] = 1
			} else {
				st.prob[k], st.kept[k] = 0, false
			}
		}
		switch {
		case d.Root:
			st.decided = 1
		case from == 0 && to == len(st.px):
			st.decided = -1
		}
	}
}

// meant is what a decision at a point of the strand is about: the stretch in doubt round it in a strand that is sure otherwise, else all.
func (s *strand) meant(at int, stepMM float64) (from, to int) {
	if s.likely() > surely {
		for _, q := range s.inDoubt(stepMM, math.Pi) {
			if at >= q.from && at < q.to {
				return q.from, q.to
			}
		}
	}
	return 0, len(s.px)
}

// nearestStrand is the strand, and its point, nearest to a place of the photo.
func (f *found) nearestStrand(p record.Point) (strand, at int, ok bool) {
	best := math.Inf(1)
	for i := range f.strands {
		for k, q := range f.strands[i].px {
			x, y, seen := f.v.pixel(q.X, q.Y)
			if !seen {
				continue
			}
			if d := math.Hypot(x-p.X, y-p.Y); d < best {
				best, strand, at = d, i, k
			}
		}
	}
	if math.IsInf(best, 1) {
		return 0, 0, false
	}
	// px of the photo per mm at that place
	q := f.strands[strand].px[at]
	x0, y0, ok0 := f.v.pixel(q.X, q.Y)
	x1, y1, ok1 := f.v.pixel(q.X, q.Y+1/f.sh.Step)
	return strand, at, ok0 && ok1 && best <= decisionReachMM*math.Hypot(x1-x0, y1-y0)
}
