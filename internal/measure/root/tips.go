package root

import (
	"math"

	"phototrack/internal/record"
	"phototrack/internal/skeleton"
)

// A growing tip has no velamen yet and shows its own colour, mostly green, in some plants reddish: an end whose last
// millimetres are more colourful than the root behind them.
const (
	tipFromMM, tipToMM = 0.6, 5.0 // the stretch before the end that is looked at
	tipChroma          = 7.0      // by how much its chroma exceeds the body's
	tipGreenA          = -6.0
)

// tips lists the growing tips of the roots, those just beyond the counted azimuths included as far as they were traced.
func (f *found) tips() []Tip {
	var out []Tip
	for _, i := range f.roots {
		st := &f.strands[i]
		lo, hi := st.span()
		if hi-lo < 8 {
			continue
		}
		for _, end := range [2]bool{true, false} { // the start, the end
			at, dir := hi, -1
			if end {
				at, dir = lo, 1
			}
			if t, ok := f.tipAt(st, at, dir, lo, hi); ok && !near(out, t.Wall, 3) {
				out = append(out, t)
			}
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

func near(tips []Tip, p record.Point, mm float64) bool {
	for _, t := range tips {
		if math.Hypot(t.Wall.X-p.X, t.Wall.Y-p.Y) < mm {
			return true
		}
	}
	return false
}

// tipAt looks at the end of a strand at point at, going inwards by dir.
func (f *found) tipAt(st *strand, at, dir, lo, hi int) (Tip, bool) {
	px := func(mm float64) int { return int(mm / f.sh.Step) }
	chroma := func(from, to int) (c, a, b float64, n int) {
		var ca, aa, ba []float64
		for k := from; k < to; k++ {
			i := at + dir*k
			if i < lo || i > hi {
				break
			}
			col, _, ok := f.sh.colour(st.px[i])
			if !ok {
				continue
			}
			ca = append(ca, math.Hypot(float64(col[1]), float64(col[2])))
			aa, ba = append(aa, float64(col[1])), append(ba, float64(col[2]))
		}
		if len(ca) == 0 {
			return 0, 0, 0, 0
		}
		return median(ca), median(aa), median(ba), len(ca)
	}
	c, a, b, n := chroma(px(tipFromMM), px(tipToMM))
	if n < px(1.2) {
		return Tip{}, false
	}
	body := f.bodyChroma
	t := Tip{Green: a < tipGreenA && b > 8}
	// bark and wood are colourful too, but reddish brown: the end of a root that turns behind bark is no tip
	if c < body+tipChroma || !t.Green && (a < 6 || b > 2.2*a) {
		return Tip{}, false
	}
	p := st.px[at]
	x, y, ok := f.v.pixel(p.X, p.Y)
	if !ok {
		return Tip{}, false
	}
	t.Px, t.Wall = record.Point{X: x, Y: y}, f.onWall(p)
	return t, true
}

// findBodyChroma is the usual chroma of this pot's roots, tips apart.
func (f *found) findBodyChroma() {
	var c []float64
	for _, i := range f.roots {
		for k := 0; k < len(f.strands[i].px); k += 3 {
			if col, _, ok := f.sh.colour(skeleton.Pt(f.strands[i].px[k])); ok {
				c = append(c, math.Hypot(float64(col[1]), float64(col[2])))
			}
		}
	}
	f.bodyChroma = 8
	if len(c) > 0 {
		f.bodyChroma = quantile(c, 0.4)
	}
}
