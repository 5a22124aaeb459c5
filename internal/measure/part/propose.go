package part

import (
	"math"

	"phototrack/internal/geom"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// Proposal is where a line of an earlier photo should be now.
type Proposal struct {
	Points []geom.PX // as a hand would have drawn them
	Result Result    // as it would be measured
	Grown  float64   // mm that the part was followed beyond the earlier tip; negative where it ends before it
	Sure   bool      // it is worth showing
	Why    string    // why it is not
}

const (
	leastFound  = 0.75 // of the line must have its edges
	widthRatio  = 1.45 // how much wider or narrower a part may have become in a month
	colourOff   = 14.0 // how much its colour may have changed, in units of far
	followMM    = 1.0  // steps in which a growing tip is followed
	mostGrowth  = 250.0
	tracksLost  = 3   // steps without edges end it
	stationsOff = 0.4 // of a width: how far the middle may jump at a step
)

// Propose moves a line of an earlier photo into a later one and draws it to the edges there. before and now are the two photos,
// old the line as it was drawn, move where the plant's places lie now on the later photo's surface. A part that grew is
// followed to its new tip.
func Propose(before, now Input, old Line, move func(geom.MM) geom.MM) Proposal {
	points, err := before.onSurface(old)
	if err != nil {
		return Proposal{Why: err.Error()}
	}
	was, err := Measure(before, old, DefaultSettings())
	if err != nil {
		return Proposal{Why: err.Error()}
	}
	if was.FoundShare == 0 {
		return Proposal{Why: "its edges were not found on the earlier photo either"}
	}
	if len(was.Curve) >= 2 { // the earlier line as it was measured, not as it was clicked
		points = before.onTheSurface(was.Curve)
	}
	c := carried{before: &before, now: &now, old: old, was: was, points: points, moved: make([]geom.MM, len(points))}
	for i, p := range points {
		c.moved[i] = move(p)
		if !now.shows(c.moved[i]) {
			return Proposal{Why: "it would leave the photo"}
		}
	}
	if old.Width && !old.Length && !old.Bend && !old.Angle {
		return c.across()
	}
	return c.along()
}

// onTheSurface are the places of pixels, without those that show none.
func (in *Input) onTheSurface(px []geom.PX) (out []geom.MM) {
	for _, p := range px {
		if q, ok := in.Surface.MM(p); ok {
			out = append(out, q)
		}
	}
	return out
}

// shows says whether a place lies within the photo, with room for the pixels about it.
func (in *Input) shows(p geom.MM) bool {
	q, ok := in.Surface.PX(p)
	return ok && q.X >= 2 && q.Y >= 2 && q.X <= float64(in.Img.W-3) && q.Y <= float64(in.Img.H-3)
}

// carried is a line on its way from one photo to the next.
type carried struct {
	before, now *Input
	old         Line      // as it was drawn on the photo before
	was         Result    // as it was measured there
	points      []geom.MM // of the line there
	moved       []geom.MM // where they lie on the next photo by the plant's registration
}

// across is a line across a part on the next photo.
func (c *carried) across() Proposal {
	line := c.old
	a, b := c.moved[0], c.moved[len(c.moved)-1]
	line.Points = c.now.pixels([]geom.MM{a, b})
	r, err := Measure(*c.now, line, DefaultSettings())
	p := Proposal{Points: line.Points, Result: r}
	switch {
	case err != nil:
		p.Why = err.Error()
	case r.FoundShare < 1:
		p.Why = "its edges are not clear"
	case outside(r.WidthMM/c.was.WidthMM, widthRatio):
		p.Why = "it would be of quite another width"
	case !alike(section{c.before, c.points[0], c.points[len(c.points)-1]}, section{c.now, a, b}):
		p.Why = "there is another colour now"
	default:
		p.Sure = true
		if len(r.Curve) == 2 {
			p.Points = r.Curve
		}
	}
	return p
}

func outside(ratio, limit float64) bool { return !(ratio > 1/limit && ratio < limit) }

// When a line is carried on to the next photo (chosen by eye; pipeline's TestSampleLinesAreCarried counts what they bring: 24 right, 1 held
// back, none wrong).
const (
	leastMovedMM   = 3.0  // how well the place of a part on the next photo is known before its edges are seen
	leastSeen      = 4    // stations with both edges
	lastStations   = 3    // a part that is seen up to these may have grown on; else it ends before
	leastShrunkMM  = 3.0  // a line that ends this much before its old end is not proposed,
	mostShrunk     = 0.05 // or this share of its length,
	leastLength    = 0.93 // or that comes out shorter than this share of the old length
	pointsBack     = 6    // a direction is taken over so many points
	stepWidthRatio = 1.35 // from one step to the next a part is no wider or thinner by more
	leastPoints    = 3    // of a proposed line: about as many as a hand sets
	mostPoints     = 8
	pointEachMM    = 20.0
)

// along is a line along a part on the next photo.
func (c *carried) along() Proposal {
	now, was := c.now, &c.was
	base := newCurve(c.moved)
	if len(base.at) < 2 {
		return Proposal{Why: ErrOnePoint.Error()}
	}
	mid, _ := base.place(base.length() / 2)
	line := c.old
	sc := now.scalesAt(mid, &line)
	sc.handMM = math.Max(sc.handMM, leastMovedMM)
	st := now.stations(base, sc)
	choose(st, sc)
	first, last, widths := stillSeen(st)
	hits := len(widths)
	if hits < leastSeen {
		return Proposal{Why: "its edges are not clear"}
	}
	width := uncert.Median(widths)
	var path []geom.MM
	for i := range st {
		k := st[i].pairs[st[i].chosen]
		switch {
		case !k.none:
			path = append(path, geom.MM{X: st[i].p.X + k.mid()*st[i].normal.X, Y: st[i].p.Y + k.mid()*st[i].normal.Y})
		case i < first: // before its foot shows
			path = append(path, st[i].p)
		}
	}
	grown := -float64(len(st)-1-last) * base.length() / float64(len(st)-1)
	if len(st)-last <= lastStations {
		more := now.follow(path, width, sc)
		grown = float64(len(more)) * followMM
		path = append(path, more...)
	}
	line.Points = now.pixels(thinned(path))
	p := Proposal{Points: line.Points, Grown: grown}
	r, err := Measure(*now, line, DefaultSettings())
	if err != nil {
		p.Why = err.Error()
		return p
	}
	p.Result = r
	found := float64(hits) / float64(max(1, last-first+1))
	switch {
	case r.FoundShare < leastFound || found < leastFound:
		p.Why = "its edges are not clear"
	case outside(r.WidthMM/was.WidthMM, widthRatio):
		p.Why = "it would be of quite another width"
	case grown < -math.Max(leastShrunkMM, mostShrunk*base.length()), r.lengthMM() < leastLength*was.lengthMM():
		// It may have been cut, or a leaf may hide it, or its edges were lost: a hand must say which.
		p.Why = "its end is not seen where it was"
	case !alikeAlong(c.before, now, c.points, path):
		p.Why = "there is another colour now"
	default:
		p.Sure = true
	}
	return p
}

// stillSeen is where along a line its part still is: the first and the last station with both edges, and the widths of all.
func stillSeen(st []station) (first, last int, widths []float64) {
	first, last = -1, -1
	for i := range st {
		k := st[i].pairs[st[i].chosen]
		if k.none {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		widths = append(widths, k.width())
	}
	return first, last, widths
}

func (in *Input) pixels(points []geom.MM) (out []geom.PX) {
	for _, p := range points {
		if q, ok := in.Surface.PX(p); ok {
			out = append(out, q)
		}
	}
	return
}

// lengthMM is the length that was measured, NaN where none was.
func (r *Result) lengthMM() float64 {
	for _, q := range r.Quantities {
		if q.Name == record.PartLength {
			return q.Value
		}
	}
	return math.NaN()
}
