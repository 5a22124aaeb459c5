package root

import (
	"math"

	"phototrack/internal/skeleton"
)

// widths measures how thick a strand is, mm, at every third point: across it, from edge to edge: where root and surroundings are
// equally likely, and near there, where the light is half of both. Points in crossings, beside other roots, or far round the pot
// are left out.
func (f *found) widths(st *strand) []float64 {
	const farthest = 50 * math.Pi / 180
	var out []float64
	for i := 0; i < len(st.px); i += 3 {
		if !st.kept[i] || st.hidden[i] || st.double[i] || st.src.Bridged[i] || math.Abs(st.az[i]) > farthest {
			continue
		}
		nx, ny := normal(st.px, i)
		reach := st.src.Radius[i] + 0.9/f.sh.Step
		a, ok1 := f.edge(st.px[i], nx, ny, reach)
		b, ok2 := f.edge(st.px[i], -nx, -ny, reach)
		if ok1 && ok2 {
			a, b = f.halfLight(st.px[i], nx, ny, a), f.halfLight(st.px[i], -nx, -ny, b)
			out = append(out, (a+b)*f.sh.Step)
		}
	}
	return out
}

// edge is the distance, px, from the centreline in direction (nx, ny) to where root is as likely as not; ok is false
// where no edge is met within reach.
func (f *found) edge(p skeleton.Pt, nx, ny, reach float64) (float64, bool) {
	last := 1.0
	for d := 0.5; d <= reach; d += 0.5 {
		x, y := p.X+d*nx, p.Y+d*ny
		i, ok := f.at(x, y)
		if !ok || f.use.Pix[i] == 0 {
			return 0, false
		}
		if f.mask.Pix[i] != 0 && f.apartMask.Pix[i] == 0 { // another root begins there
			return 0, false
		}
		q := f.between(x, y)
		if q < 0.5 {
			if last < 0.5 { // the line does not run inside
				return 0, false
			}
			return d - 0.5*(0.5-q)/math.Max(last-q, noFall), true
		}
		last = q
	}
	return 0, false
}

// at is the pixel of a position.
func (f *found) at(x, y float64) (int, bool) {
	u, v := int(x+0.5), int(y+0.5)
	if x < 0 || y < 0 || u+1 >= f.sh.W || v+1 >= f.sh.H {
		return 0, false
	}
	return v*f.sh.W + u, true
}

// between is the probability of root at a position between pixels.
func (f *found) between(x, y float64) float64 {
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	k, p, w := j*f.sh.W+i, f.reg.any.Pix, f.sh.W
	a := float64(p[k]) + fx*float64(p[k+1]-p[k])
	b := float64(p[k+w]) + fx*float64(p[k+w+1]-p[k+w])
	return a + fy*(b-a)
}

const (
	halfLightMM  = 0.5  // the edge in the light lies within this of the edge of the regions
	leastContour = 0.25 // of the brighter side: less light from side to side does not place an edge
	noFall       = 1e-6 // of probability between two places of a line, where it is divided by
	rounding     = 1e-9 // px, so that half steps that were added up reach the end of a line
)

// halfLight moves an edge, px from the centreline, to where the light is half of what it is on either side: a lens blurs light, and
// what is half way in lightness lies outside of that for a bright root.
func (f *found) halfLight(p skeleton.Pt, nx, ny, edge float64) float64 {
	in := f.light(p, nx, ny, 0.35*edge, 0.7*edge)
	out := f.light(p, nx, ny, edge+0.5/f.sh.Step, edge+1.1/f.sh.Step)
	if math.Abs(in-out) < leastContour*math.Max(in, out) {
		return edge
	}
	half := (in + out) / 2
	reach := halfLightMM / f.sh.Step
	best, at := reach, edge
	last, lastAt := 0.0, 0.0
	for d := math.Max(0, edge-reach); d <= edge+reach; d += 0.25 {
		v := f.light(p, nx, ny, d, d) - half
		if d > edge-reach && last*v < 0 {
			if q := lastAt + 0.25*last/(last-v); math.Abs(q-edge) < best {
				best, at = math.Abs(q-edge), q
			}
		}
		last, lastAt = v, d
	}
	return at
}

// light is the mean light, 0..1, on a line from the centreline, px.
func (f *found) light(p skeleton.Pt, nx, ny, from, to float64) float64 {
	var sum float64
	n := 0
	for d := from; d <= to+rounding; d += 0.5 {
		x, y := p.X+d*nx, p.Y+d*ny
		i, j := int(x), int(y)
		if x < 0 || y < 0 || i+1 >= f.sh.W || j+1 >= f.sh.H {
			continue
		}
		fx, fy := x-float64(i), y-float64(j)
		k, w := j*f.sh.W+i, f.sh.W
		at := func(k int) float64 { t := (float64(f.sh.L.Pix[k]) + 16) / 116; return t * t * t }
		sum += (1-fy)*((1-fx)*at(k)+fx*at(k+1)) + fy*((1-fx)*at(k+w)+fx*at(k+w+1))
		n++
	}
	return sum / float64(max(1, n))
}
