package root

import (
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/skeleton"
)

// A growing tip has no velamen yet and shows its own colour, mostly green, in some plants reddish or pale. The network
// knows tips as a class; each piece of it that belongs to a root is one tip.
const (
	tipLeastMM2, tipMostMM2 = 2.5, 150.0
	tipSurely               = 0.5 // of what is root of any kind there
	tipLeastRoot            = 0.6 // where it is less likely root than this, it is taken to be as likely as this; by eye
	tipJoinMM               = 3.5 // pieces nearer than this are one tip
	greenA, greenB          = -7.5, 8.0
)

// tips lists the growing tips on the wall as far round as it is judged and shown.
func (f *found) tips() []Tip {
	s := f.sh
	m := raster.NewMask(s.W, s.H)
	for i, v := range f.reg.tip.Pix {
		if v > tipSurely*max(tipLeastRoot, f.reg.any.Pix[i]) && f.use.Pix[i] != 0 {
			m.Pix[i] = 1
		}
	}
	m = opened(m, 1)
	joined := dilated(m, tipJoinMM/2/s.Step) // a tip that a scratch or a drop parts is one
	runs, size := raster.Components(joined, true)
	type sums struct{ x, y, a, b, p, n, root float64 }
	of := make([]sums, len(size))
	near := dilated(f.own, 1/s.Step)
	for _, r := range runs {
		q := &of[r.Component]
		for x := r.X0; x < r.X1; x++ {
			i := int(r.Y)*s.W + int(x)
			if m.Pix[i] == 0 {
				continue
			}
			q.x += float64(x)
			q.y += float64(r.Y)
			q.a += float64(s.A.Pix[i])
			q.b += float64(s.B.Pix[i])
			q.p += float64(f.reg.tip.Pix[i])
			q.root += float64(near.Pix[i])
			q.n++
		}
	}
	var out []Tip
	for i := range of {
		q := of[i]
		mm2 := q.n * s.Step * s.Step
		if mm2 < tipLeastMM2 || mm2 > tipMostMM2 || q.root < q.n/2 {
			continue
		}
		p := skeleton.Pt{X: q.x / q.n, Y: q.y / q.n}
		x, y, ok := f.v.pixel(p.X, p.Y)
		if w := f.onWall(p); ok {
			out = append(out, Tip{Px: record.Point{X: x, Y: y}, Wall: w, Green: q.a/q.n < greenA && q.b/q.n > greenB, Likely: q.p / q.n})
		}
	}
	return out
}

// span is the kept part of a strand.
func (s *strand) span() (lo, hi int) {
	lo, hi = 0, len(s.px)-1
	for lo < hi && !s.kept[lo] {
		lo++
	}
	for hi > lo && !s.kept[hi] {
		hi--
	}
	return lo, hi
}
