package part

import (
	"math"

	"phototrack/internal/geom"
)

const (
	tipReachMM = 2.5 // how far along the line an end is drawn to the part's own end
	alikeShare = 0.5 // beyond a tip lies what lies beside the part: so much nearer to that than to the part
)

// How the end of a part is looked for (chosen by eye; the simulated lengths of this package's tests measure what they bring).
const (
	mostOfPart  = 0.4  // of the length: how far back from a drawn end the tip is looked for at most
	backOfPart  = 0.3  // of the length: how far back what lies beside the part is looked at, at most
	tipShare    = 0.2  // of the width: half the breadth of tip that is averaged
	mostTipMM   = 0.5  // at most
	roundShare  = 0.1  // of the width: how far a round tip goes on beyond where its middle is seen to end, standard uncertainty
	mostRoundMM = 3.0  // of a wider part no more than of this width
	apartMM     = 1e-3 // points nearer to each other are one
)

// atTip draws an end of the curve along its direction to where the part ends, if it ends there: beyond it must lie what lies
// beside the part. An end within the plant (a foot on a stem) stays where it was set. u is the standard uncertainty of an end
// that was drawn, 0 for one that was not.
func (in *Input) atTip(c *curve, end bool, width float64, sc scales) (p geom.MM, u float64) {
	s, sign := 0.0, -1.0
	if end {
		s, sign = c.length(), 1.0
	}
	p, dir := c.place(s)
	dir = geom.MM{X: sign * dir.X, Y: sign * dir.Y} // outwards
	if !(width > 0) {
		return p, 0
	}
	side := geom.MM{X: -dir.Y, Y: dir.X}
	reach := math.Max(tipReachMM, sc.handMM)
	back := math.Min(reach+spreadsBeyond*sc.spreadMM, mostOfPart*c.length())
	prof := in.take(sc.fine(transect{origin: p, dir: dir, side: side, from: -back, to: reach + spreadsBeyond*sc.spreadMM, halfSide: math.Min(tipShare*width, mostTipMM)}))
	// What lies beside the part a little back from its end.
	q, _ := c.place(math.Abs(s - math.Min(backOfPart*c.length(), reach+width/2)))
	across := in.take(transect{origin: q, dir: side, side: dir, from: -width/2 - 4*sc.spreadMM, to: width/2 + 4*sc.spreadMM, halfSide: 0.3, step: sc.mmPerPx / 2, delta: 2})
	left, okL := across.mean(-width/2-3*sc.spreadMM, -width/2-1.2*sc.spreadMM)
	right, okR := across.mean(width/2+1.2*sc.spreadMM, width/2+3*sc.spreadMM)
	inside, okI := across.mean(-0.25*width, 0.25*width)
	if !okL || !okR || !okI {
		return p, 0
	}
	best, cost := 0.0, math.Inf(1)
	for _, e := range prof.edges(perStation) {
		if math.Abs(e.t) > reach {
			continue
		}
		in1, ok1 := prof.mean(e.t-2.2*sc.spreadMM, e.t-0.9*sc.spreadMM)
		out1, ok2 := prof.mean(e.t+0.9*sc.spreadMM, e.t+2.2*sc.spreadMM)
		if !ok1 || !ok2 {
			continue
		}
		beside := math.Min(far(out1, left), far(out1, right))
		if beside > alikeShare*far(out1, inside) || far(in1, inside) > far(in1, out1) {
			continue
		}
		if k := math.Abs(e.t)/reach + 8/e.strong; k < cost {
			best, cost = e.t, k
		}
	}
	if math.IsInf(cost, 1) {
		return p, 0
	}
	if t, ok := prof.halfLevel(best, sc.spreadMM); ok {
		best = t
	}
	// A tip is round: its very end is a little beyond where the middle of it was seen to end.
	return geom.MM{X: p.X + best*dir.X, Y: p.Y + best*dir.Y}, math.Hypot(edgePx*sc.mmPerPx*2, roundShare*math.Min(width, mostRoundMM))
}

// withEnds is the curve with its ends moved along it.
func withEnds(c curve, first, last geom.MM) curve {
	n := len(c.at)
	points := make([]geom.MM, 0, n+2)
	l := c.length()
	a, da := c.place(0)
	b, db := c.place(l)
	s0 := (first.X-a.X)*da.X + (first.Y-a.Y)*da.Y // how far inwards
	s1 := (last.X-b.X)*db.X + (last.Y-b.Y)*db.Y   // how far outwards
	points = append(points, first)
	k := max(leastStations, n)
	for i := 1; i < k; i++ {
		s := l * float64(i) / float64(k)
		if s > s0+apartMM && s < l+s1-apartMM {
			p, _ := c.place(s)
			points = append(points, p)
		}
	}
	return newCurve(append(points, last))
}
