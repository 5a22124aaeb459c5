package part

import (
	"math"
	"sort"

	"phototrack/internal/geom"
)

// curve is a smooth path: a natural cubic spline of each coordinate over the chord length through its knots. With two knots
// it is straight.
type curve struct {
	at         []float64 // chord length at each knot
	x, y       []float64
	x2, y2     []float64 // second derivatives at the knots
	fineT, arc []float64 // parameter and arc length at fine steps
}

// newCurve makes the path through points; those that fall on the one before are left out.
func newCurve(points []geom.MM) curve {
	var c curve
	for i, p := range points {
		d := 0.0
		if n := len(c.at); n > 0 {
			d = math.Hypot(p.X-c.x[n-1], p.Y-c.y[n-1])
			if d < tinyMM {
				continue
			}
			d += c.at[n-1]
		}
		_ = i
		c.at, c.x, c.y = append(c.at, d), append(c.x, p.X), append(c.y, p.Y)
	}
	c.x2, c.y2 = secondDerivatives(c.at, c.x), secondDerivatives(c.at, c.y)
	c.measure()
	return c
}

// secondDerivatives of the natural cubic spline (de Boor 1978, A practical guide to splines, chapter IV).
func secondDerivatives(t, v []float64) []float64 {
	n := len(t)
	m := make([]float64, n)
	if n < 3 { // between two points it is straight
		return m
	}
	u := make([]float64, n)
	for i := 1; i < n-1; i++ {
		h0, h1 := t[i]-t[i-1], t[i+1]-t[i]
		s := h0 / (h0 + h1)
		p := s*m[i-1] + 2
		m[i] = (s - 1) / p
		u[i] = (6*((v[i+1]-v[i])/h1-(v[i]-v[i-1])/h0)/(h0+h1) - s*u[i-1]) / p
	}
	for i := n - 2; i >= 0; i-- {
		m[i] = m[i]*m[i+1] + u[i]
	}
	return m
}

// fineSteps between two knots: the polyline of so many chords is shorter than the arc by 1 in 24 n^2 of the square of the
// angle between knots, which is nothing.
const fineSteps = 24

func (c *curve) measure() {
	c.fineT, c.arc = []float64{0}, []float64{0}
	if len(c.at) < 2 {
		return
	}
	last, sum := c.eval(0), 0.0
	for i := 1; i < len(c.at); i++ {
		for k := 1; k <= fineSteps; k++ {
			t := c.at[i-1] + (c.at[i]-c.at[i-1])*float64(k)/fineSteps
			p := c.eval(t)
			sum += math.Hypot(p.X-last.X, p.Y-last.Y)
			last = p
			c.fineT, c.arc = append(c.fineT, t), append(c.arc, sum)
		}
	}
}

func (c *curve) eval(t float64) geom.MM {
	if len(c.at) == 1 {
		return geom.MM{X: c.x[0], Y: c.y[0]}
	}
	i := min(max(1, sort.SearchFloat64s(c.at, t)), len(c.at)-1)
	h := c.at[i] - c.at[i-1]
	a, b := (c.at[i]-t)/h, (t-c.at[i-1])/h
	f := func(v, m []float64) float64 {
		return a*v[i-1] + b*v[i] + ((a*a*a-a)*m[i-1]+(b*b*b-b)*m[i])*h*h/6
	}
	return geom.MM{X: f(c.x, c.x2), Y: f(c.y, c.y2)}
}

// length is the arc length.
func (c *curve) length() float64 { return c.arc[len(c.arc)-1] }

// stepMM and stepShare of the length are the step by which a direction is taken: far below what is measured, far above rounding.
const stepMM, stepShare = 1e-4, 1e-4

// place is the point at arc length s and the unit direction there.
func (c *curve) place(s float64) (p, dir geom.MM) {
	t := c.param(s)
	p = c.eval(t)
	e := math.Max(stepMM, c.at[len(c.at)-1]*stepShare)
	a, b := c.eval(math.Max(0, t-e)), c.eval(math.Min(c.at[len(c.at)-1], t+e))
	d := math.Hypot(b.X-a.X, b.Y-a.Y)
	if d == 0 {
		return p, geom.MM{X: 1}
	}
	return p, geom.MM{X: (b.X - a.X) / d, Y: (b.Y - a.Y) / d}
}

func (c *curve) param(s float64) float64 {
	i := sort.SearchFloat64s(c.arc, s)
	if i == 0 {
		return 0
	}
	if i >= len(c.arc) {
		return c.fineT[len(c.fineT)-1]
	}
	f := (s - c.arc[i-1]) / (c.arc[i] - c.arc[i-1])
	return c.fineT[i-1] + f*(c.fineT[i]-c.fineT[i-1])
}

// bendDeg is how far the direction turns from the first third to the last: the angle between the chords of the two, counted
// on past 180 degrees where the path curls so far.
func (c *curve) bendDeg() float64 {
	l := c.length()
	a, _ := c.place(0)
	b, _ := c.place(l / 3)
	d, _ := c.place(2 * l / 3)
	e, _ := c.place(l)
	first, last := math.Atan2(b.Y-a.Y, b.X-a.X), math.Atan2(e.Y-d.Y, e.X-d.X)
	// How often it goes round is told by the turning along the way.
	turned := 0.0
	const n = 60
	_, dir := c.place(l / 6)
	for i := 1; i <= n; i++ {
		_, next := c.place(l/6 + float64(i)/n*l*2/3)
		turned += math.Atan2(dir.X*next.Y-dir.Y*next.X, dir.X*next.X+dir.Y*next.Y)
		dir = next
	}
	d0 := last - first
	d0 += 2 * math.Pi * math.Round((turned-d0)/(2*math.Pi))
	return math.Abs(d0) * 180 / math.Pi
}

// angleDeg is the direction from the first point to the last against up (-y), clockwise as seen, 0 to 360.
func (c *curve) angleDeg() float64 {
	a, _ := c.place(0)
	b, _ := c.place(c.length())
	return math.Mod(math.Atan2(b.X-a.X, a.Y-b.Y)*180/math.Pi+360, 360)
}

// chord is the straight distance of the ends.
func (c *curve) chord() float64 {
	a, _ := c.place(0)
	b, _ := c.place(c.length())
	return math.Hypot(b.X-a.X, b.Y-a.Y)
}
