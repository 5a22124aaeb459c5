package root

import (
	"math"

	"phototrack/internal/record"
)

const (
	sameRootMM = 3.0 // centrelines nearer than this on the wall are the same root
	leastRunMM = 4.0 // shorter stretches are where two tracings differ
	crossRunMM = 12.0
)

// compare sorts the centrelines of both walls into new, gone and kept on the stretch both show.
func (r *Registration) compare(before, after *Wall, f fitTurn) {
	// the earlier roots, carried over to the later wall
	var old [][]record.Point
	for _, l := range before.Roots {
		var q []record.Point
		for _, p := range l {
			az := p.X/before.radius(p.Y) + f.turn
			y := p.Y + f.shift
			q = append(q, record.Point{X: az * after.radius(y), Y: y})
		}
		old = append(old, q)
	}
	both := func(w *Wall, p record.Point) bool {
		az := p.X / w.radius(p.Y)
		return math.Abs(az) < limitAzimuth && math.Abs(az-f.turn) < limitAzimuth
	}
	var endsNew, endsGone int
	for i, l := range after.Roots {
		k := worth(after, i)
		fresh, kept := runs(l, old, func(p record.Point) bool { return both(after, p) })
		for _, s := range fresh {
			r.NewMM += k * lineLength(s)
			endsNew++
		}
		for _, s := range kept {
			r.KeptMM += k * lineLength(s)
		}
		r.New, r.Kept = append(r.New, fresh...), append(r.Kept, kept...)
	}
	for i, l := range old {
		gone, _ := runs(l, after.Roots, func(p record.Point) bool { return both(after, p) })
		for _, s := range gone {
			r.GoneMM += worth(before, i) * lineLength(s)
			endsGone++
		}
		r.Gone = append(r.Gone, gone...)
	}
	// Every stretch has two ends placed to a millimetre or two, and tracings of the same wall differ by some per cent.
	r.NewU = math.Hypot(1.5*math.Sqrt(float64(2*endsNew)), 0.03*(r.NewMM+r.KeptMM))
	r.GoneU = math.Hypot(1.5*math.Sqrt(float64(2*endsGone)), 0.03*(r.GoneMM+r.KeptMM))
}

// worth is the seen length of a root over the length of its line on the wall: hidden stretches do not count.
func worth(w *Wall, i int) float64 {
	l := lineLength(w.Roots[i])
	if i >= len(w.LengthMM) || l <= 0 {
		return 1
	}
	return math.Min(1.2, w.LengthMM[i]/l)
}

func lineLength(p []record.Point) (l float64) {
	for i := 1; i < len(p); i++ {
		l += math.Hypot(p[i].X-p[i-1].X, p[i].Y-p[i-1].Y)
	}
	return l
}

// runs cuts a line, where within holds, into stretches away from all others and stretches along one of them. Stretches
// too short to mean anything go to the other kind.
func runs(l []record.Point, others [][]record.Point, within func(record.Point) bool) (away, along [][]record.Point) {
	kind := make([]int, len(l)) // 0 outside, 1 away, 2 along
	for i, p := range l {
		if within(p) {
			kind[i] = 1
			if d, atEnd := distanceTo(others, p); d < sameRootMM && !(atEnd && d > 1) {
				kind[i] = 2 // beyond the old end it is growth at once
			}
		}
	}
	// A new root that crosses an old one runs along it for a little, which makes it no old root.
	shortest := [3]float64{1: leastRunMM, 2: crossRunMM}
	for i := 0; i < len(l); { // short stretches between two of the other kind
		j := i
		for j < len(l) && kind[j] == kind[i] {
			j++
		}
		if kind[i] != 0 && i > 0 && j < len(l) && kind[i-1] == kind[j] && kind[j] != 0 && lineLength(l[i:j]) < shortest[kind[i]] {
			for k := i; k < j; k++ {
				kind[k] = kind[j]
			}
		}
		i = j
	}
	for i := 0; i < len(l); {
		j := i
		for j < len(l) && kind[j] == kind[i] {
			j++
		}
		s := l[max(0, i-1):j] // with the step that leads to it
		if kind[i] == 2 {
			along = append(along, s)
		} else if kind[i] == 1 && lineLength(s) >= leastRunMM {
			away = append(away, s)
		}
		i = j
	}
	return away, along
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
