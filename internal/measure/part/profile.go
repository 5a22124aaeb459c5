package part

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// light is linear light of blue, green and red, 0..1.
type light [3]float64

func (a light) minus(b light) light { return light{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a light) dot(b light) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// far is how different two lights look, roughly in L* units: differences of cube roots, as in CIELAB.
func far(a, b light) float64 {
	s := 0.0
	for i := range a {
		d := 100 * (math.Cbrt(a[i]) - math.Cbrt(b[i]))
		s += d * d
	}
	return math.Sqrt(s / 3)
}

// lightAt interpolates between the four pixels round a place; ok is false outside the photo.
func lightAt(img raster.BGR, p geom.PX) (l light, ok bool) {
	if !(p.X >= 0 && p.Y >= 0 && p.X <= float64(img.W-1) && p.Y <= float64(img.H-1)) {
		return l, false
	}
	x0, y0 := min(int(p.X), img.W-2), min(int(p.Y), img.H-2)
	fx, fy := p.X-float64(x0), p.Y-float64(y0)
	i := 3 * (y0*img.W + x0)
	j := i + 3*img.W
	for c := range l {
		l[c] = (1-fy)*((1-fx)*colour.LinearOf8[img.Pix[i+c]]+fx*colour.LinearOf8[img.Pix[i+3+c]]) +
			fy*((1-fx)*colour.LinearOf8[img.Pix[j+c]]+fx*colour.LinearOf8[img.Pix[j+3+c]])
	}
	return l, true
}

// profile is light along a straight way on the surface: sample i lies at from + i*step, mm from the way's origin.
type profile struct {
	from, step float64
	v          []light
	grad       []float64 // how fast the colour changes there, see far, per step of two deltas
}

// transect is a straight strip of the surface along which light is taken, from origin+from*dir to origin+to*dir.
type transect struct {
	origin, dir, side geom.MM // dir and side are at right angles
	from, to          float64 // mm
	halfSide          float64 // mm, half its width
	step              float64 // mm from sample to sample
	delta             int     // samples to each side over which colour is taken to change
}

// take samples the light along a transect, each sample the mean of a few beside it along side, which lie on the part's
// edge and so do not blur it. What lies outside the photo ends the profile.
func (in *Input) take(way transect) profile {
	o, dir, side, delta := way.origin, way.dir, way.side, way.delta
	p := profile{from: way.from, step: way.step}
	n := int((way.to-way.from)/way.step) + 1
	const beside = 2
	for i := range n {
		t := way.from + float64(i)*way.step
		var sum light
		var k float64
		for j := -beside; j <= beside; j++ {
			w := way.halfSide * float64(j) / beside
			px, ok := in.Surface.PX(geom.MM{X: o.X + t*dir.X + w*side.X, Y: o.Y + t*dir.Y + w*side.Y})
			if !ok {
				continue
			}
			l, ok := lightAt(in.Img, px)
			if !ok {
				continue
			}
			for c := range sum {
				sum[c] += l[c]
			}
			k++
		}
		if k == 0 {
			if t > 0 {
				break
			}
			p.v, p.from = nil, t+way.step
			continue
		}
		for c := range sum {
			sum[c] /= k
		}
		p.v = append(p.v, sum)
	}
	p.grad = make([]float64, len(p.v))
	for i := delta; i+delta < len(p.v); i++ {
		p.grad[i] = far(p.v[i+delta], p.v[i-delta])
	}
	return p
}

func (p *profile) t(i int) float64 { return p.from + float64(i)*p.step }

// mean light between two places.
func (p *profile) mean(from, to float64) (m light, ok bool) {
	n := 0.0
	for i := max(0, int(math.Ceil((from-p.from)/p.step))); i < len(p.v) && p.t(i) <= to; i++ {
		for c := range m {
			m[c] += p.v[i][c]
		}
		n++
	}
	if n == 0 {
		return m, false
	}
	for c := range m {
		m[c] /= n
	}
	return m, true
}

// edge is a place where the colour changes.
type edge struct {
	t      float64
	strong float64
}

// leastEdge is the smallest change of colour that is an edge, in units of far: noise and texture stay below it.
const leastEdge = 3.0

// edges are the local maxima of the gradient, the strongest few, in order of place.
func (p *profile) edges(most int) (out []edge) {
	for i := 1; i+1 < len(p.grad); i++ {
		g := p.grad[i]
		if g < leastEdge || g < p.grad[i-1] || g <= p.grad[i+1] {
			continue
		}
		out = append(out, edge{p.t(i), g})
	}
	for len(out) > most {
		least := 0
		for i := range out {
			if out[i].strong < out[least].strong {
				least = i
			}
		}
		out = append(out[:least], out[least+1:]...)
	}
	return out
}

// halfLevel places an edge near t to a fraction of a step: where the light, along the difference of both sides, is half way
// between them. spread is the width of a sharp edge, mm; inside is +1 where the part lies towards larger t. ok is false
// where the two sides do not differ.
func (p *profile) halfLevel(t, spread float64) (float64, bool) {
	gap, reach := 0.9*spread, 2.2*spread
	lo, okLo := p.mean(t-reach, t-gap)
	hi, okHi := p.mean(t+gap, t+reach)
	if !okLo || !okHi {
		return t, false
	}
	d := hi.minus(lo)
	n := d.dot(d)
	if n == 0 || far(lo, hi) < leastEdge/2 {
		return t, false
	}
	at := func(i int) float64 { return p.v[i].minus(lo).dot(d)/n - 0.5 }
	best, found := t, false
	for i := max(1, int((t-spreadsToEdge*spread-p.from)/p.step)); i < len(p.v) && p.t(i) <= t+spreadsToEdge*spread; i++ {
		a, b := at(i-1), at(i)
		if a <= 0 && b > 0 {
			x := p.t(i-1) + p.step*(-a)/(b-a)
			if !found || math.Abs(x-t) < math.Abs(best-t) {
				best, found = x, true
			}
		}
	}
	return best, found
}
