package root

import (
	"math"

	"phototrack/internal/record"
)

const (
	sameRootMM = 3.0 // centrelines nearer than this on the wall are the same root
	leastRunMM = 4.0 // shorter stretches are where two tracings differ
	crossRunMM = 12.0
	// Of what a photo does not see of its roots, the other photo of the same wall mostly does not see either: this share it sees. Chosen
	// so that of a hundred drawn walls in two lights a twentieth show new root that is none.
	missedBefore = 0.5
)

// compare sorts the centrelines of both walls into new, gone and kept on the stretch both show.
func (r *Registration) compare(before, after *Wall, f fitTurn) {
	// the earlier roots, carried over to the later wall
	carry := func(lines [][]record.Point) (out [][]record.Point) {
		for _, l := range lines {
			var q []record.Point
			for _, p := range l {
				az := p.X/before.radius(p.Y) + f.turn
				y := p.Y + f.shift
				q = append(q, record.Point{X: az * after.radius(y), Y: y})
			}
			out = append(out, q)
		}
		return out
	}
	old, oldDoubt := carry(before.Roots), carry(before.Doubt)
	earlier := func(p record.Point) (x, y float64) { // the same place on the earlier wall
		y = p.Y - f.shift
		return (p.X/after.radius(p.Y) - f.turn) * before.radius(y), y
	}
	common := func(p record.Point) bool {
		az := p.X / after.radius(p.Y)
		return math.Abs(az) < limitAzimuth && math.Abs(az-f.turn) < limitAzimuth
	}
	var fresh, left doubts
	for i, l := range after.Roots {
		k := worth(after, i)
		for _, s := range runs(l, old, func(p record.Point) bool {
			x, y := earlier(p)
			return common(p) && !before.hides(x, y) // what the other photo does not show is neither new nor gone
		}) {
			part := l[s.from:s.to]
			mm := k * lineLength(part)
			if s.along {
				r.KeptMM += mm
				r.Kept = append(r.Kept, part)
				continue
			}
			r.New = append(r.New, part)
			r.NewMM += fresh.add(mm, after.traits(i), s.from, s.to, max(along(part, oldDoubt), shareOf(part, func(p record.Point) bool {
				return before.mayHave(earlier(p))
			})))
		}
	}
	for i, l := range old {
		for _, s := range runs(l, after.Roots, func(p record.Point) bool { return common(p) && !after.hides(p.X, p.Y) }) {
			if s.along {
				continue
			}
			part := l[s.from:s.to]
			r.Gone = append(r.Gone, part)
			r.GoneMM += left.add(worth(before, i)*lineLength(part), before.traits(i), s.from, s.to, max(along(part, after.Doubt), shareOf(part, func(p record.Point) bool {
				return after.mayHave(p.X, p.Y)
			})))
		}
	}
	// Every stretch has two ends placed to a millimetre or two, and tracings of the same wall differ by some per cent.
	all := 0.03 * (r.NewMM + r.KeptMM)
	r.NewU = math.Hypot(math.Sqrt(fresh.variance+all*all), missedBefore*before.NotSeenU)
	r.GoneU = math.Hypot(math.Sqrt(left.variance+0.03*0.03*(r.GoneMM+r.KeptMM)*(r.GoneMM+r.KeptMM)), missedBefore*after.NotSeenU)
}

// doubts sums the variance of stretches, mm2: where they end, and whether they are root at all.
type doubts struct{ variance float64 }

const stretchEndU = 1.5 // mm, of each end

// add takes in a stretch of mm and gives what of it counts. Where the other photo was in doubt the root may have been there
// already: half of that counts, and may be all or nothing.
func (d *doubts) add(mm float64, traits string, from, to int, inDoubt float64) float64 {
	var p float64
	for i := from; i < to; i++ {
		q, _ := trait(traits, i)
		p += q / float64(to-from)
	}
	d.variance += 2*stretchEndU*stretchEndU + mm*mm*p*(1-p) + 0.25*mm*mm*inDoubt*inDoubt
	return mm * (1 - 0.5*inDoubt)
}

// along is the share of a line's points that lie along one of the others.
func along(l []record.Point, others [][]record.Point) float64 {
	if len(others) == 0 {
		return 0
	}
	return shareOf(l, func(p record.Point) bool {
		d, _ := distanceTo(others, p)
		return d < sameRootMM
	})
}

// shareOf is the share of a line's points for which something holds.
func shareOf(l []record.Point, holds func(p record.Point) bool) float64 {
	n := 0
	for _, p := range l {
		if holds(p) {
			n++
		}
	}
	return float64(n) / float64(max(1, len(l)))
}

func (w *Wall) traits(i int) string {
	if i < len(w.Traits) {
		return w.Traits[i]
	}
	return ""
}

// mostWorth bounds that: a length in space is longer than its line on the wall where the root lies aslant of it, by no more than this. By eye.
const mostWorth = 1.2

// worth is the seen length of a root over the length of its line on the wall: hidden stretches do not count.
func worth(w *Wall, i int) float64 {
	l := lineLength(w.Roots[i])
	if i >= len(w.LengthMM) || l <= 0 {
		return 1
	}
	return math.Min(mostWorth, w.LengthMM[i]/l)
}

func lineLength(p []record.Point) (l float64) {
	for i := 1; i < len(p); i++ {
		l += math.Hypot(p[i].X-p[i-1].X, p[i].Y-p[i-1].Y)
	}
	return l
}

// run is a stretch of a line, points from..to-1, away from all others or along one of them.
type run struct {
	from, to int
	along    bool
}

// runs cuts a line, where within holds, into stretches away from all others and stretches along one of them. Stretches
// too short to mean anything go to the other kind.
func runs(l []record.Point, others [][]record.Point, within func(record.Point) bool) (out []run) {
	kinds := make([]company, len(l))
	for i, p := range l {
		if within(p) {
			kinds[i] = alone
			if d, atEnd := distanceTo(others, p); d < sameRootMM && !(atEnd && d > 1) {
				kinds[i] = accompanied // beyond the old end it is growth at once
			}
		}
	}
	joinShort(kinds, l)
	for i, j := 0, 0; i < len(l); i = j {
		j = lastLike(kinds, i)
		s := run{max(0, i-1), j, kinds[i] == accompanied} // with the step that leads to it
		if s.along || kinds[i] == alone && lineLength(l[s.from:s.to]) >= leastRunMM {
			out = append(out, s)
		}
	}
	return out
}

// company is how a point of a line lies to the lines of the other photo.
type company int

const (
	unshared    company = iota // outside what both photos show
	alone                      // away from all of them
	accompanied                // along one
)

// lastLike is where the run of equal values that begins at i ends.
func lastLike[T comparable](v []T, i int) int {
	j := i
	for j < len(v) && v[j] == v[i] {
		j++
	}
	return j
}

// joinShort gives short stretches of a line, between two of the other kind, to those.
func joinShort(kinds []company, l []record.Point) {
	// A new root that crosses an old one runs along it for a little, which makes it no old root.
	shortest := [3]float64{alone: leastRunMM, accompanied: crossRunMM}
	for i, j := 0, 0; i < len(l); i = j {
		j = lastLike(kinds, i)
		if kinds[i] == unshared || i == 0 || j == len(l) || kinds[j] == unshared {
			continue
		}
		if kinds[i-1] == kinds[j] && lineLength(l[i:j]) < shortest[kinds[i]] {
			for k := i; k < j; k++ {
				kinds[k] = kinds[j]
			}
		}
	}
}

// distanceTo is the distance from p to the nearest of the lines; atEnd says that an end of that line is the nearest.
func distanceTo(lines [][]record.Point, p record.Point) (best float64, atEnd bool) {
	best = math.Inf(1)
	for _, l := range lines {
		for i := 1; i < len(l); i++ {
			a, b := l[i-1], l[i]
			dx, dy := b.X-a.X, b.Y-a.Y
			t := 0.0
			if n := dx*dx + dy*dy; n > 0 {
				t = max(0, min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/n))
			}
			x, y := p.X-a.X-t*dx, p.Y-a.Y-t*dy
			if d := x*x + y*y; d < best {
				best, atEnd = d, t == 0 && i == 1 || t == 1 && i == len(l)-1
			}
		}
	}
	return math.Sqrt(best), atEnd
}
