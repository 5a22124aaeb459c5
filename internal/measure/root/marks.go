package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Mark is a polygon that the grower drew on the photo.
//
// A leave-out area is wall that is not seen, like that behind the card: no root is looked for there, roots that run
// through it end at its edge, and it counts as lost in wall_seen_share, on which the term "wall not seen" of the length's
// budget and the gate wall_hidden rest. So a length with areas left out is that of the roots outside them, and its
// interval allows for what the area may hide.
//
// A keep area says that there are roots in it, though they may be hard to tell from what lies beside them. The odds of root
// are raised there, and every strand that is as wide as a root can be counts. What shows nothing of a root cannot be
// counted: its course, and so its length, is not in the picture. Where both kinds overlap, leaving out wins.
type Mark struct {
	Keep   bool // false: leave out
	Points []record.Point
}

// polygons are outlines as the tests for points want them.
func polygons(outlines [][]record.Point) [][][2]float64 {
	out := make([][][2]float64, len(outlines))
	for i, p := range outlines {
		for _, q := range p {
			out[i] = append(out[i], [2]float64{q.X, q.Y})
		}
	}
	return out
}

// marked are the outlines of one kind of mark.
func (in *Input) marked(keep bool) (out [][]record.Point) {
	for _, k := range in.Marks {
		if k.Keep == keep && len(k.Points) > 2 {
			out = append(out, k.Points)
		}
	}
	return out
}

// hidden are the outlines behind which no wall is seen: card, tags and what the grower left out.
func (in *Input) hidden() [][][2]float64 {
	return polygons(append(append([][]record.Point{}, in.Blocked...), in.marked(false)...))
}

// markAreas finds the wall within the marks; what lies in keep areas can be judged wherever it is seen.
func (f *found) markAreas(in *Input) {
	f.keep, f.left = f.within(in.marked(true)), f.within(in.marked(false))
	for i, v := range f.sh.Seen.Pix {
		f.keep.Pix[i] &= v
	}
}

// within finds the wall, as far round as roots are looked for, that the photo shows within outlines.
func (f *found) within(outlines [][]record.Point) raster.Mask {
	s := f.sh
	out := raster.NewMask(s.W, s.H)
	if len(outlines) == 0 {
		return out
	}
	polys, box := polygons(outlines), boundsOf(outlines)
	for y := int(rimMM / s.Step); y < s.H-int(f.foot/s.Step); y++ {
		for x := range s.W {
			if az, _ := s.place(float64(x), float64(y)); math.Abs(az) >= searchAzimuth {
				continue
			}
			u, v, ok := s.pixel(float64(x), float64(y))
			if ok && u >= box[0] && v >= box[1] && u <= box[2] && v <= box[3] && within(polys, u, v) {
				out.Pix[y*s.W+x] = 1
			}
		}
	}
	return out
}

func boundsOf(outlines [][]record.Point) (b [4]float64) {
	b = [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, o := range outlines {
		for _, p := range o {
			b = [4]float64{math.Min(b[0], p.X), math.Min(b[1], p.Y), math.Max(b[2], p.X), math.Max(b[3], p.Y)}
		}
	}
	return b
}

// noteKept says how much of a strand lies in keep areas.
func (f *found) noteKept(st *strand) {
	n := 0
	for _, p := range st.px {
		if _, k, ok := f.sh.colour(p); ok && f.keep.Pix[k] != 0 {
			n++
		}
	}
	st.inKeep = float64(n) / float64(max(1, len(st.px)))
}
