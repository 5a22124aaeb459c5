package calib

import (
	"math"
	"slices"

	"phototrack/internal/geom"
)

const (
	cornerFloorPx = 0.05 // corners agree no better than this: chroma subsampling and JPEG blocks move edges
	bleedPriorMM  = 0.15 // paper and overexposure spread light or ink by tenths of a mm
	huberPx       = 2.5
)

// corners are the corners of the card's markers: where they lie on this print, where they are seen, and how far each is trusted.
type corners struct {
	mm       []geom.MM
	px       []geom.PX
	out      []geom.PX // the way in which black bleeds, a sign for each axis
	weight   []float64
	outliers int // corners that disagree with the others
}

func cornersOn(s sighting, print Print) *corners {
	c := &corners{}
	c.mm, c.px = cornersOf(s.markers)
	sx, sy := print.AcrossMM/100, print.DownMM/90
	c.out, c.weight = make([]geom.PX, len(c.mm)), make([]float64, len(c.mm))
	for i := range c.mm {
		c.out[i] = [4]geom.PX{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}}[i%4]
		c.mm[i] = geom.MM{X: c.mm[i].X * sx, Y: c.mm[i].Y * sy}
		c.weight[i] = 1
	}
	return c
}

// flat is where the i-th corner is seen by a free homography, p[0] to p[7], of black that bleeds by p[8] mm.
func (c *corners) flat(p []float64, i int) geom.PX {
	g := geom.Homography{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}
	return g.Px(geom.MM{X: c.mm[i].X + p[8]*c.out[i].X, Y: c.mm[i].Y + p[8]*c.out[i].Y})
}

// fitFlat fits a free homography with bleed: it tells how well corners lie on a plane and which of them do not.
func (c *corners) fitFlat() (fit geom.Fit, err error) {
	start, err := geom.FitHomography(c.mm, c.px, nil)
	if err != nil {
		return fit, err
	}
	n := len(c.mm)
	p := append(append([]float64(nil), start[:8]...), 0)
	for range 3 {
		fit = geom.LM(p, 2*n+1, func(p, r []float64) {
			for i := range c.mm {
				q := c.flat(p, i)
				r[2*i], r[2*i+1] = c.weight[i]*(q.X-c.px[i].X), c.weight[i]*(q.Y-c.px[i].Y)
			}
			r[2*n] = p[8] / bleedPriorMM * 0.1
		}, 40)
		p = fit.P
		c.weigh(fit.P)
	}
	return fit, nil
}

// wildCorner is how many times the median misfit a corner may be off before it is left out altogether (chosen by eye).
const wildCorner = 10

// weigh sets the corners' weights by how far each lies off the fit (Huber), and leaves out those far off.
func (c *corners) weigh(p []float64) {
	var off []float64
	for i := range c.mm {
		off = append(off, dist(c.flat(p, i), c.px[i]))
	}
	sorted := slices.Clone(off)
	slices.Sort(sorted)
	scale := math.Max(sorted[len(sorted)/2], cornerFloorPx)
	c.outliers = 0
	for i, r := range off {
		c.weight[i] = 1
		if r > huberPx*2*scale {
			c.weight[i] = huberPx * 2 * scale / r
			c.outliers++
		}
		if r > wildCorner*scale {
			c.weight[i] = 0
		}
	}
}

// residual is the weighted sum of the squared distances from the fit, px2, and the sum of the weights.
func (c *corners) residual(p []float64) (ss, sw float64) {
	for i := range c.mm {
		d := dist(c.flat(p, i), c.px[i])
		ss += c.weight[i] * d * d
		sw += c.weight[i]
	}
	return ss, sw
}
