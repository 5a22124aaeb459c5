package root

import (
	"math"

	"phototrack/internal/skeleton"
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
	vouched  []bool        // in an area the grower wants kept
	looks    looks
	src      *skeleton.Root
}

// lift carries a root of the frontal view into space: the ray through every point of its centreline meets the surface
// that lies half the root's thickness inside the wall. One thickness is used for the root (the median): half widths
// along a mask are noisy, and a step in radius would count as length.
func lift(v *view, inner wall.Frustum, r *skeleton.Root) strand {
	n := len(r.Pts)
	s := strand{px: r.Pts, pos: make([]wall.Vec, n), az: make([]float64, n), depth: make([]float64, n), hidden: make([]bool, n), kept: make([]bool, n), double: make([]bool, n), radiusMM: make([]float64, n), src: r}
	rad := median(r.Radius) * v.Step
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
			seen += d
			if s.double[i] {
				seen += d
			}
		}
	}
	return whole, seen
}

func median(v []float64) float64 { return quantile(v, 0.5) }

// markDouble finds where two roots that touch side by side have become one body: its width is then half as much again as
// the root's own, or more, over some length. With less than that the centreline of the lower one lies hidden under the
// upper one and is not seen anyway. common is the usual half width of this pot's roots, px.
func (s *strand) markDouble(stepMM, common float64, use func(i int) bool) {
	// A root that is thin in the mask for lying in shade is not double where it comes into the light.
	own := math.Max(quantile(s.src.Radius, 0.4), 0.9*common)
	least := int(3 / stepMM)
	n := len(s.px)
	for i := 0; i < n; i++ {
		j := i
		for j < n && s.src.Radius[j] > 1.5*own && !s.src.Bridged[j] && use(j) {
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
