package root

import (
	"math"
	"slices"

	"phototrack/internal/skeleton"
	"phototrack/internal/uncert"
	"phototrack/internal/wall"
)

// strand is one root in space.
type strand struct {
	px       []skeleton.Pt // in the frontal view
	radiusMM []float64     // half thickness, mm
	pos      []wall.Vec    // centreline, on the surface of radius R - half thickness
	az       []float64     // azimuth from the camera's direction, rad
	depth    []float64     // below the rim, mm
	hidden   []bool        // behind another root
	kept     []bool        // taken to be root
	double   []bool        // two roots lie side by side here and make one body
	prob     []float64     // how likely it is root
	oldProb  []float64     // how likely, if root, it is an old one
	old      []bool        // an old, brown or dry root
	inKeep   float64       // share of it in areas the grower wants kept
	decided  int           // by the grower: 1 root, -1 none, 0 not asked
	anew     bool          // seen at half the size only
	diameter float64       // mm, of the mask
	colour   [3]float32    // CIELAB, median
	src      *skeleton.Root
}

// lift carries a root of the frontal view into space: the ray through every point of its centreline meets the surface
// that lies half the root's thickness inside the wall. One thickness is used for the root (the median): half widths
// along a mask are noisy, and a step in radius would count as length.
func lift(v *view, inner wall.Frustum, r *skeleton.Root) strand {
	n := len(r.Pts)
	s := strand{px: r.Pts, pos: make([]wall.Vec, n), az: make([]float64, n), depth: make([]float64, n), hidden: make([]bool, n), kept: make([]bool, n), double: make([]bool, n), radiusMM: make([]float64, n), src: r}
	rad := uncert.Median(slices.Clone(r.Radius)) * v.Step
	sheet := inner.Inset(rad)
	sh := sheet.Sheet()
	eye := v.cam.Centre()
	for i, p := range r.Pts {
		s.kept[i] = true
		s.radiusMM[i] = r.Radius[i] * v.Step
		q := v.point(p.X, p.Y)
		hit, ok := sh.MeetOpen(eye, q.Sub(eye))
		if !ok {
			hit = q
		}
		s.pos[i] = hit
		s.az[i], s.depth[i], _ = sh.Coords(hit)
	}
	return s
}

// length sums the centreline from azimuth -limit to limit, rad: whole, and without the parts hidden behind other roots.
// A step that crosses the limit counts by its share.
func (s *strand) length(limit float64) (whole, seen float64) {
	whole, seen, _ = s.lengths(limit)
	return whole, seen
}

// lengths also tells how much of what is seen is old root.
func (s *strand) lengths(limit float64) (whole, seen, oldSeen float64) {
	for i := 1; i < len(s.pos); i++ {
		if !s.kept[i] || !s.kept[i-1] {
			continue
		}
		a, b := math.Abs(s.az[i-1]), math.Abs(s.az[i])
		share := 1.0
		switch {
		case a > limit && b > limit:
			continue
		case a > limit || b > limit:
			share = (limit - math.Min(a, b)) / math.Abs(a-b)
		}
		d := share * s.pos[i].Sub(s.pos[i-1]).Norm()
		whole += d
		if !s.hidden[i] {
			if s.double[i] {
				d *= 2
			}
			seen += d
			if s.old != nil && s.old[i] {
				oldSeen += d
			}
		}
	}
	return whole, seen, oldSeen
}

const (
	ownQuantile = 0.4 // of a root's half widths is its own: under the half, because doubled stretches are the wider ones
	ownLeast    = 0.9 // of the pot's usual half width: what a single root's may come to by being thin in the mask; by eye
	doubleFrom  = 1.5 // times a root's own width: half way to two of a size side by side
	doubleRunMM = 3.0 // mm: shorter swellings are nodes and meetings; by eye
)

// markDouble finds where two roots that touch side by side have become one body: its width is then half as much again as
// the root's own, or more, over some length. With less than that the centreline of the lower one lies hidden under the
// upper one and is not seen anyway. common is the usual half width of this pot's roots, px.
func (s *strand) markDouble(stepMM, common float64) {
	// A root that is thin in the mask is not double where it is as wide as the others.
	own := math.Max(quantile(s.src.Radius, ownQuantile), ownLeast*common)
	least := int(doubleRunMM / stepMM)
	n := len(s.px)
	for i := 0; i < n; i++ {
		j := i
		for j < n && s.src.Radius[j] > doubleFrom*own && !s.src.Bridged[j] {
			j++
		}
		if j-i >= least {
			for k := i; k < j; k++ {
				s.double[k] = true
			}
		}
		i = max(i, j-1)
	}
}
