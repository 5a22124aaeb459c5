package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
)

// widths measures how thick a strand is, mm, at every third point: across it, from where the colour is half way between
// root and background on one side to where it is so on the other. The mask's own width would hang on the threshold that
// made it. Points in crossings, beside other roots, or far round the pot are left out.
func (f *found) widths(st *strand) []float64 {
	const farthest = 50 * math.Pi / 180
	var out []float64
	for i := 0; i < len(st.px); i += 3 {
		if !st.kept[i] || st.hidden[i] || st.double[i] || st.src.Bridged[i] || math.Abs(st.az[i]) > farthest {
			continue
		}
		nx, ny := normal(st.px, i)
		r := st.src.Radius[i]
		a, ok1 := f.halfWay(st.px[i], nx, ny, r)
		b, ok2 := f.halfWay(st.px[i], -nx, -ny, r)
		if ok1 && ok2 {
			out = append(out, (a+b)*f.sh.Step)
		}
	}
	return out
}

// halfWay is the distance, px, from the centreline in direction (nx, ny) to where the colour is half way to the
// background's.
func (f *found) halfWay(p skeleton.Pt, nx, ny, r float64) (float64, bool) {
	s := f.sh
	at := func(d float64) skeleton.Pt { return skeleton.Pt{X: p.X + d*nx, Y: p.Y + d*ny} }
	c, ok := mixed(s, at(0))
	if !ok {
		return 0, false
	}
	far := r + 0.9/s.Step
	x, y := int(at(far).X+0.5), int(at(far).Y+0.5)
	if x < 0 || y < 0 || x >= s.W || y >= s.H || f.mask.Pix[y*s.W+x] != 0 || f.use.Pix[y*s.W+x] == 0 {
		return 0, false
	}
	g, ok := mixed(s, at(far))
	if !ok {
		return 0, false
	}
	// along the line from background to root in colour space, lightness and red-green
	dl, da := float64(c[0]-g[0]), 2*float64(c[1]-g[1])
	n := dl*dl + da*da
	if n < 36 {
		return 0, false
	}
	last := 1.0
	for d := 0.5; d <= far; d += 0.5 {
		q, ok := mixed(s, at(d))
		if !ok {
			return 0, false
		}
		t := (dl*float64(q[0]-g[0]) + 2*da*float64(q[1]-g[1])) / n
		if t < 0.5 {
			return d - 0.5*(0.5-t)/math.Max(last-t, 1e-6), true
		}
		last = t
	}
	return 0, false
}

// mixed is the colour at a position between pixels.
func mixed(s *sheet, p skeleton.Pt) (c [3]float32, ok bool) {
	x, y := int(p.X), int(p.Y)
	if p.X < 0 || p.Y < 0 || x+1 >= s.W || y+1 >= s.H {
		return c, false
	}
	fx, fy := float32(p.X-float64(x)), float32(p.Y-float64(y))
	i := y*s.W + x
	for k, g := range [3]raster.Float{s.L, s.A, s.B} {
		a, b := g.Pix[i]+fx*(g.Pix[i+1]-g.Pix[i]), g.Pix[i+s.W]+fx*(g.Pix[i+s.W+1]-g.Pix[i+s.W])
		c[k] = a + fy*(b-a)
	}
	return c, true
}
