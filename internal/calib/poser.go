package calib

import (
	"math"

	"phototrack/internal/geom"
)

// poser is the model of a camera before the card, whose parameters are fitted to the corners: three of turning, three of shifting
// (mm), the logarithm of the focal length over its prior, the print's aspect and the bleed of its black (mm).
type poser struct {
	*corners
	start   geom.Camera // pose from the free homography, at the prior's focal length
	prior   FocalPrior
	mid     geom.MM // the card's centre
	cx, cy  float64 // the photo's centre, px
	sigma   float64 // standard deviation of a corner's coordinate, px
	aspectU float64 // of the aspect, before the corners are looked at
}

func (m *poser) camera(p []float64) geom.Camera {
	c := m.start.Turned(geom.Vec3{p[0], p[1], p[2]}, geom.Vec3{})
	// Shift in units that leave the card where it is seen while distance and focal length trade against each other.
	e := math.Exp(p[6])
	c.F = m.prior.Px * e
	for i := range 3 {
		c.T[i] += p[3+i]
	}
	c.T[2] += (e - 1) * m.start.DepthMM(m.mid)
	return c
}

// lens is what a plain camera and a flat card do not have: radial distortion, as a share at the half diagonal, and the card's bow, mm.
type lens struct{ k1, bendMM float64 }

// project is where the i-th corner is seen.
func (m *poser) project(c geom.Camera, aspect, bleed float64, l lens, i int) geom.PX {
	x := (m.mm[i].X-m.mid.X)*math.Exp(aspect) + m.mid.X + bleed*m.out[i].X
	y := (m.mm[i].Y-m.mid.Y)*math.Exp(-aspect) + m.mid.Y + bleed*m.out[i].Y
	u := (x - m.mid.X) / m.mid.X
	q := c.Px(geom.Vec3{x, y, l.bendMM * (u*u - 0.5)})
	if l.k1 != 0 {
		dx, dy := q.X-m.cx, q.Y-m.cy
		r2 := (dx*dx + dy*dy) / (m.cx*m.cx + m.cy*m.cy)
		q = geom.PX{X: m.cx + dx*(1+l.k1*r2), Y: m.cy + dy*(1+l.k1*r2)}
	}
	return q
}

// residuals are those of the corners and of the priors, each over its standard deviation. With bent the distortion and the card's
// bow are parameters too.
func (m *poser) residuals(bent bool) func(p, r []float64) {
	return func(p, r []float64) {
		c := m.camera(p)
		var l lens
		if bent {
			l = lens{p[9], p[10]}
		}
		for i := range m.mm {
			q := m.project(c, p[7], p[8], l, i)
			r[2*i], r[2*i+1] = m.weight[i]*(q.X-m.px[i].X)/m.sigma, m.weight[i]*(q.Y-m.px[i].Y)/m.sigma
		}
		n := 2 * len(m.mm)
		r[n], r[n+1], r[n+2] = p[6]/m.prior.RelU, p[7]/m.aspectU, p[8]/bleedPriorMM
		if bent {
			r[n+3], r[n+4] = l.k1/0.1, l.bendMM/3
		}
	}
}

// fit fits the model, first as a plain camera and a flat card, whose outcome counts, then to see what bends either.
func (m *poser) fit(f *cardFit) {
	n := 2 * len(m.mm)
	flat := geom.LM(make([]float64, 9), n+3, m.residuals(false), 60)
	f.p, f.cov = flat.P, flat.Cov
	f.model = func(p []float64) (geom.Camera, float64) { return m.camera(p), p[7] }
	f.cam, f.aspect = f.model(flat.P)
	f.bleedMM = flat.P[8]
	bent := geom.LM(append(append([]float64(nil), flat.P...), 1e-6, 1e-6), n+5, m.residuals(true), 40)
	f.k1, f.bendMM = bent.P[9], bent.P[10]
	if bent.Cov != nil {
		f.k1U, f.bendU = math.Sqrt(bent.Cov[9][9]), math.Sqrt(bent.Cov[10][10])
	}
}
