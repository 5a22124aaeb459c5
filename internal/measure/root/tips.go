package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/skeleton"
)

// A growing tip has no velamen yet and shows its own colour, mostly green, in some plants reddish: an end whose last
// millimetres are more colourful than the root behind them.
const (
	tipFromMM, tipToMM = 0.6, 5.0 // the stretch before the end that is looked at
	tipChroma          = 10.0     // by how much its chroma exceeds the body's
	tipGreenA          = -7.5
)

// tips lists the growing tips: green spots on roots, wherever along the wall they are seen, and coloured ends of others.
func (f *found) tips() []Tip {
	out := f.greenSpots()
	for _, i := range f.roots {
		st := &f.strands[i]
		lo, hi := st.span()
		if hi-lo < 8 {
			continue
		}
		for _, start := range [2]bool{true, false} {
			at, dir := hi, -1
			if start {
				at, dir = lo, 1
			}
			if t, ok := f.tipAt(st, at, dir, lo, hi); ok && !near(out, t.Wall, 12) {
				out = append(out, t)
			}
		}
	}
	return out
}

const (
	spotLeastMM2, spotMostMM2 = 7.0, 150.0
	spotFarthest              = 80 * math.Pi / 180
	spotFree                  = 52 * math.Pi / 180 // beyond this a tip need not hang on a root that was traced
)

// greenSpots finds tips by their colour alone. In a thicket a tip often has no end of a centreline of its own. A spot in
// the part of the wall where roots are traced has to lie on one, so that moss and leaves do not count.
func (f *found) greenSpots() []Tip {
	s := f.sh
	green := raster.NewMask(s.W, s.H)
	for i := range green.Pix {
		a, b := s.A.Pix[i], s.B.Pix[i]
		if s.Seen.Pix[i] == 0 || a > tipGreenA || b < 8 || math.Hypot(float64(a), float64(b)) < f.bodyChroma+tipChroma || f.leaves.Pix[i] != 0 || i/s.W < f.top[i%s.W] {
			continue
		}
		if az, _ := s.place(float64(i%s.W), float64(i/s.W)); math.Abs(az) < spotFarthest {
			green.Pix[i] = 1
		}
	}
	label, size := pieces(opened(green, 0.5/s.Step))
	onRoot := f.onRoot(label, len(size))
	sum := make([][3]float64, len(size))
	for i, l := range label {
		sum[l][0] += float64(i % s.W)
		sum[l][1] += float64(i / s.W)
		sum[l][2]++
	}
	var out []Tip
	for l := 1; l < len(size); l++ {
		mm2 := float64(size[l]) * s.Step * s.Step
		p := skeleton.Pt{X: sum[l][0] / sum[l][2], Y: sum[l][1] / sum[l][2]}
		az, _ := s.place(p.X, p.Y)
		// beyond the traced azimuths the view squeezes a spot
		if mm2 < spotLeastMM2*math.Max(0.4, math.Cos(az)) || mm2 > spotMostMM2 || !onRoot[l] && math.Abs(az) < spotFree {
			continue
		}
		x, y, ok := f.v.pixel(p.X, p.Y)
		if w := f.onWall(p); ok && !near(out, w, 2.5) {
			out = append(out, Tip{Px: record.Point{X: x, Y: y}, Wall: w, Green: true})
		}
	}
	return out
}

// onRoot says for every labelled piece whether a root's centreline runs through it.
func (f *found) onRoot(label []int32, n int) []bool {
	on := make([]bool, n)
	for _, i := range f.roots {
		st := &f.strands[i]
		for k, p := range st.px {
			x, y := int(p.X+0.5), int(p.Y+0.5)
			if st.kept[k] && x >= 0 && y >= 0 && x < f.sh.W && y < f.sh.H {
				on[label[y*f.sh.W+x]] = true
			}
		}
	}
	return on
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
