package root

import (
	"math"

	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// outline is the silhouette of a pot of known size, projected on the axis plane, relative to the axis and the rim.
type outline struct {
	y    []float64 // rows of the sides, mm below the rim
	half []float64 // half width of the silhouette there
	ends [2]struct {
		y, r float64
	} // front of rim and foot
}

func newOutline(pot record.Pot, dist float64) outline {
	var o outline
	for i := range 30 {
		f := 0.10 + 0.82*float64(i)/29
		r := pot.TopMM/2 + f*(pot.BottomMM-pot.TopMM)/2 + wallThickMM
		o.y = append(o.y, f*pot.HeightMM)
		o.half = append(o.half, r/math.Sqrt(1-(r/dist)*(r/dist)))
	}
	o.ends[0].y, o.ends[0].r = 0, pot.TopMM/2
	o.ends[1].y, o.ends[1].r = pot.HeightMM, pot.BottomMM/2
	return o
}

// leastSide is the mean strength of a side's edges below which there is no such side.
const leastSide = 0.15

// sidesAlong is the mean strength of the edges of the left and of the right side for outlines with their rim at y and
// their axis from mm past the plane's border and every step px farther.
func (o *outline) sidesAlong(p *plane, y, from float64, step int) (sides [2][]float32) {
	n := int(math.Ceil((float64(p.w) - 2*from) / float64(step)))
	for s, to := range [2]float64{-1, 1} {
		sum := make([]float32, max(0, n))
		for i := range o.y {
			v := int(y + o.y[i] - p.y0 + 0.5)
			if v < 0 || v >= p.h {
				continue
			}
			row := p.gx[v*p.w : (v+1)*p.w]
			u := int(math.Floor(from + to*o.half[i] + 0.5))
			for k := range sum {
				if at := u + k*step; uint(at) < uint(len(row)) {
					sum[k] += row[at]
				}
			}
		}
		for k := range sum {
			sum[k] /= float32(len(o.y))
		}
		sides[s] = sum
	}
	return sides
}

// score says how well the outline sits with its axis at x and its rim at y, eye being the camera's centre.
func (o *outline) score(p *plane, eye wall.Vec, offset, x, y float64) float64 {
	n := float32(len(o.y))
	side := func(to float64) (sum float32) {
		for i := range o.y {
			sum += p.look(p.gx, x+to*o.half[i], y+o.y[i])
		}
		return sum / n
	}
	l := side(-1)
	if l < leastSide {
		return 0
	}
	r := side(1)
	if r < leastSide {
		return 0
	}
	a, b := o.ringsAt(p, eye, -eye[2]-offset, x, y)
	return float64(together(l, r, min(a, b)))
}

// together is the score, 0..1, of an outline with such edges at its sides and its rings: the weaker side counts most.
func together(left, right, rings float32) float32 {
	return (min(left, right) + 0.3*(left+right) + 0.8*rings) / 2.4
}

// ringsAt is the mean strength of level edges along the front of the rim and of the foot, seen from dist mm before the axis.
func (o *outline) ringsAt(p *plane, eye wall.Vec, dist, x, y float64) (rim, foot float32) {
	var e [2]float32
	for k, end := range o.ends {
		front := o.front(eye, dist, y, k)
		for i := -ringPlaces; i <= ringPlaces; i++ {
			e[k] += p.look(p.gy, x+ringStep*float64(i)*2*end.r, front) / (2*ringPlaces + 1)
		}
	}
	return e[0], e[1]
}

// front is where on the axis plane the front of a ring shows, for a rim at y: nearer to the camera, seen from above it appears lower.
func (o *outline) front(eye wall.Vec, dist, y float64, ring int) float64 {
	end := o.ends[ring]
	return eye[1] + (y+end.y-eye[1])*dist/(dist-end.r)
}
