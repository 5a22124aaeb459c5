package root

import (
	"math"
	"slices"

	"phototrack/internal/skeleton"
	"phototrack/internal/uncert"
)

// cover marks the stretches of roots that lie behind another root. At every meeting one root is on top: where one ends
// at the other, that other; at a crossing the one that says over(zone, a, b) (a, b are root numbers). What counts as
// hidden is the part of the lower centreline within the half width of the upper one.
func cover(st []strand, over func(zone, a, b int) bool) {
	type visit struct{ root, at int }
	zones := map[int][]visit{}
	for i := range st {
		for _, m := range st[i].src.Meets {
			zones[m.Zone] = append(zones[m.Zone], visit{i, m.At})
		}
	}
	for z, vs := range zones {
		for i, a := range vs {
			for _, b := range vs[i+1:] {
				if a.root == b.root {
					continue
				}
				aEnds, bEnds := endsIn(st[a.root].src, z), endsIn(st[b.root].src, z)
				switch {
				case aEnds && bEnds:
				case aEnds:
					hide(&st[a.root], a.at, &st[b.root], b.at)
				case bEnds:
					hide(&st[b.root], b.at, &st[a.root], a.at)
				case over(z, a.root, b.root):
					hide(&st[b.root], b.at, &st[a.root], a.at)
				default:
					hide(&st[a.root], a.at, &st[b.root], b.at)
				}
			}
		}
	}
}

func endsIn(r *skeleton.Root, zone int) bool {
	for _, m := range r.Meets {
		if m.Zone == zone {
			return m.Ends
		}
	}
	return false
}

// hide marks the points of low near its point at that lie within the half width of top's centreline.
func hide(low *strand, at int, top *strand, topAt int) {
	const (
		window = 60 // px on either side, 15 mm: further off the two have parted
		parted = 12 // points in a row beside the upper root, 3 mm, after which they have parted for good; by eye
	)
	lo, hi := max(0, topAt-2*window), min(len(top.px)-1, topAt+2*window)
	if lo >= hi {
		return
	}
	r := uncert.Median(slices.Clone(top.src.Radius[lo : hi+1]))
	for _, dir := range [2]int{-1, 1} {
		out := 0
		for i := at; i >= 0 && i < len(low.px) && out < parted && (i-at)*dir < window; i += dir {
			if lineDistance(top.px[lo:hi+1], low.px[i]) < r {
				low.hidden[i] = true
				out = 0
			} else {
				out++
			}
		}
	}
}

func lineDistance(p []skeleton.Pt, q skeleton.Pt) float64 {
	best := math.Inf(1)
	for _, v := range p {
		best = math.Min(best, v.Dist(q))
	}
	return best
}
