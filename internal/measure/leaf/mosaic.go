package leaf

import (
	"math"

	"phototrack/internal/regions"
)

// mosaic puts the close-ups together on the grid.
type mosaic struct {
	in     *Input
	g      *grid
	fx, fy float64 // photo pixels in a grid pixel
	// own is, for each of the w x h places of the whole photo, how much of what grows there is the plant in question.
	own  []float32
	w, h int
	// Of each grid pixel the sum over the close-ups of how much they count there, and of the probability of leaf times that.
	weight, leaf []float32
}

func newMosaic(in *Input, g *grid, r *found) *mosaic {
	n := g.w * g.h
	return &mosaic{in: in, g: g, own: r.ownShare(), w: r.seen.W, h: r.seen.H, weight: make([]float32, n), leaf: make([]float32, n),
		fx: float64(in.Img.W) / float64(g.w), fy: float64(in.Img.H) / float64(g.h)}
}

// add adds the close-up's probability of leaf to the grid pixels it shows.
func (m *mosaic) add(c *closeUp) {
	leaf, other := c.seen.P[regions.Leaf], c.seen.P[regions.Other]
	sx, sy := float64(c.seen.W)/float64(c.w), float64(c.seen.H)/float64(c.h)
	g, w, h, fx, fy := m.g, m.w, m.h, m.fx, m.fy
	y0, y1 := int(float64(c.y)/fy), min(g.h-1, int(float64(c.y+c.h)/fy))
	x0, x1 := int(float64(c.x)/fx), min(g.w-1, int(float64(c.x+c.w)/fx))
	for y := y0; y <= y1; y++ {
		py := (float64(y)+0.5)*fy - 0.5
		v := max(0, min(float64(c.seen.H-1), (py-float64(c.y)+0.5)*sy-0.5))
		j := min(c.seen.H-2, int(v))
		tv := float32(v - float64(j))
		whole := m.own[min(h-1, y*h/g.h)*w:][:w]
		for x := x0; x <= x1; x++ {
			px := (float64(x)+0.5)*fx - 0.5
			wt := c.weight(m.in, px, py)
			if wt <= 0 {
				continue
			}
			u := max(0, min(float64(c.seen.W-1), (px-float64(c.x)+0.5)*sx-0.5))
			i := min(c.seen.W-2, int(u))
			tu := float32(u - float64(i))
			at := func(q []float32) float32 {
				o := j*c.seen.W + i
				a := q[o] + tu*(q[o+1]-q[o])
				b := q[o+c.seen.W] + tu*(q[o+c.seen.W+1]-q[o+c.seen.W])
				return a + tv*(b-a)
			}
			l, o := at(leaf), at(other)
			s := whole[min(w-1, x*w/g.w)]
			m.leaf[y*g.w+x] += wt * (l + o) * s
			m.weight[y*g.w+x] += wt
		}
	}
}

// addDetail adds to the logit of leaf what the close-ups show more finely than the whole photo: the difference of their logit from
// its own mean round about. What a broad place is, the whole photo says, which shows what belongs together.
func (r *found) addDetail(g *grid, p []float32, m *mosaic) {
	near, sum := m.leaf, m.weight
	for i, w := range sum {
		if w > 0 {
			near[i] = boundLogit(near[i] / w)
		} else {
			near[i] = boundLogit(p[i])
		}
	}
	reach := max(2, detailPlaces*g.w/r.seen.W)
	mean := boxMean(near, g.w, g.h, reach)
	for i, w := range sum {
		if w > 0 && g.block[i] == 0 {
			near[i] = sigmoid(boundLogit(p[i]) + min(1, w)*(near[i]-mean[i]))
		} else {
			near[i] = p[i]
		}
	}
	copy(p, near)
	r.takeOver(g, p, nil)
}

// detailPlaces is half the width, in places of the whole photo's picture, of what counts as detail.
const detailPlaces = 5

// boundLogit is the logit of a probability, bounded.
func boundLogit(p float32) float32 {
	switch {
	case p <= leastBound:
		return leastLogit
	case p >= 1-leastBound:
		return mostLogit
	}
	return logitOf(p)
}

// leastBound, with its complement, bounds the probabilities whose logit is taken: 4.
const leastBound = 0.018

// Most places are sure: what is beyond the bounds has these.
var leastLogit, mostLogit = logitOf(leastBound), logitOf(1 - leastBound)

func logitOf(p float32) float32 { return float32(math.Log(float64(p / (1 - p)))) }

func sigmoid(x float32) float32 { return float32(1 / (1 + math.Exp(-float64(x)))) }

// ownShare is, for each place of the whole photo, how much of what grows there or close by is the plant in question.
func (r *found) ownShare() []float32 {
	const reach = 4
	w, h := r.seen.W, r.seen.H
	leaf, other := boxMean(r.seen.P[regions.Leaf], w, h, reach), boxMean(r.seen.P[regions.Other], w, h, reach)
	for i, v := range leaf {
		leaf[i] = (v + 0.02) / (v + other[i] + 0.02)
	}
	return leaf
}

// boxMean is the mean over a window of 2 r + 1 places, cut at the edges.
func boxMean(p []float32, w, h, r int) []float32 {
	return boxMeanIn(p, w, h, r, box{0, 0, w, h})
}

// boxMeanIn is boxMean in a part of a picture that is 0 above that part and left of it: sums that begin there are the same to the last digit.
func boxMeanIn(p []float32, w, h, r int, in box) []float32 {
	out := make([]float32, len(p))
	if in.x1 <= in.x0 || in.y1 <= in.y0 { // nothing is asked for: there is no leaf
		return out
	}
	first, last, n := max(0, in.y0-r-1), min(in.y1+r, h), in.x1-in.x0
	means := make([]float32, n*(last-first)) // along the rows
	row := func(y int) []float32 { return means[(y-first)*n : (y-first+1)*n] }
	for y := first; y < last; y++ {
		meanAlong(p[y*w:(y+1)*w], row(y), r, in.x0, in.x1)
	}
	// Down the columns, row by row: a row of sums is in reach at once, a column of the picture is not.
	sums, count := make([]float32, n), float32(0)
	add := func(y int) {
		for x, v := range row(y) {
			sums[x] += v
		}
		count++
	}
	for y := first; y < min(in.y0+r, h); y++ {
		add(y)
	}
	for y := in.y0; y < in.y1; y++ {
		if y+r < h {
			add(y + r)
		}
		if y > r {
			for x, v := range row(y - r - 1) {
				sums[x] -= v
			}
			count--
		}
		for x, v := range sums {
			out[y*w+in.x0+x] = v / count
		}
	}
	return out
}

// meanAlong gives the means over windows of 2 r + 1 places of a row, cut at its ends, for places x0 to x1-1.
func meanAlong(src, dst []float32, r, x0, x1 int) {
	sum, count := float32(0), float32(0)
	for x := max(0, x0-r-1); x < min(x0+r, len(src)); x++ {
		sum += src[x]
		count++
	}
	for x := x0; x < x1; x++ {
		if x+r < len(src) {
			sum += src[x+r]
			count++
		}
		if x > r {
			sum -= src[x-r-1]
			count--
		}
		dst[x-x0] = sum / count
	}
}
