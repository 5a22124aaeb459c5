package root

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// correlator gives the correlation of two patterns at all rotations of one against the other, shift by shift. Where nothing
// was seen does not count, so that for each rotation six sums over the common places are needed: how many there are, and of
// the values, their squares and their products. Each is itself a correlation, along the rows, of values and of masks, and is
// computed for all rotations at once by Fourier transforms of the rows (Padfield 2012, IEEE Trans. Image Process. 21:2706).
type correlator struct {
	aw, bw, h1, h2, reach int
	fft                   *fourier.FFT
	a, b                  spectra
	sums                  [6][]complex128
	line                  [6][]float64
}

// spectra are a pattern's rows, transformed: where something was seen, the values, and their squares.
type spectra struct {
	n                    int // coefficients a row
	seen, value, squared []complex128
	empty                []bool // rows without a place that was seen
}

// newCorrelator prepares rotations of up to reach columns to each side.
func newCorrelator(a, b *pattern, reach int) *correlator {
	size := goodSize(max(a.w, b.w) + reach) // so that what runs out at one end does not come in at the other within reach
	c := &correlator{aw: a.w, bw: b.w, h1: a.h, h2: b.h, reach: reach, fft: fourier.NewFFT(size)}
	c.a, c.b = c.transform(a), c.transform(b)
	for i := range c.sums {
		c.sums[i] = make([]complex128, c.a.n)
		c.line[i] = make([]float64, size)
	}
	return c
}

// goodSize is the next size that has no factors but 2, 3 and 5: others take longer.
func goodSize(n int) int {
	for ; ; n++ {
		m := n
		for _, f := range []int{2, 3, 5} {
			for m%f == 0 {
				m /= f
			}
		}
		if m == 1 {
			return n
		}
	}
}

func (c *correlator) transform(p *pattern) spectra {
	s := spectra{n: c.fft.Len()/2 + 1, empty: make([]bool, p.h)}
	s.seen, s.value, s.squared = make([]complex128, s.n*p.h), make([]complex128, s.n*p.h), make([]complex128, s.n*p.h)
	seen, value, squared := make([]float64, c.fft.Len()), make([]float64, c.fft.Len()), make([]float64, c.fft.Len())
	for y := range p.h {
		s.empty[y] = true
		for x, v := range p.v[y*p.w : (y+1)*p.w] {
			q, m := float64(v), 1.0
			if q != q {
				q, m = 0, 0
			} else {
				s.empty[y] = false
			}
			seen[x], value[x], squared[x] = m, q, q*q
		}
		if s.empty[y] {
			continue
		}
		c.fft.Coefficients(s.row(s.seen, y), seen)
		c.fft.Coefficients(s.row(s.value, y), value)
		c.fft.Coefficients(s.row(s.squared, y), squared)
	}
	return s
}

func (s *spectra) row(of []complex128, y int) []complex128 { return of[y*s.n : (y+1)*s.n : (y+1)*s.n] }

// scores writes the correlations of b at (x, y) with a at (x - dx, y - dy) for dx from -reach to reach; -1 where too few
// places are common.
func (c *correlator) scores(dy int, to []float64) {
	for i := range c.sums {
		clear(c.sums[i])
	}
	for y := max(0, dy); y < min(c.h2, c.h1+dy); y++ {
		if !c.a.empty[y-dy] && !c.b.empty[y] {
			c.add(y-dy, y)
		}
	}
	for i := range c.sums {
		c.fft.Sequence(c.line[i], c.sums[i])
	}
	size := float64(c.fft.Len())
	for i := range to {
		k := (i - c.reach + c.fft.Len()) % c.fft.Len()
		n := math.Round(c.line[0][k] / size)
		sa, sb, saa, sbb, sab := c.line[1][k]/size, c.line[2][k]/size, c.line[3][k]/size, c.line[4][k]/size, c.line[5][k]/size
		to[i] = -1
		if n < leastPlaces || c.common(i-c.reach) < leastColumns {
			continue
		}
		if d := (saa - sa*sa/n) * (sbb - sb*sb/n); d > 0 {
			to[i] = (sab - sa*sb/n) / math.Sqrt(d)
		}
	}
}

// Fewer common places or columns than these tell nothing.
const (
	leastPlaces  = 400
	leastColumns = 10
)

// add adds the products of a row of each.
func (c *correlator) add(ya, yb int) {
	am, av, aq := c.a.row(c.a.seen, ya), c.a.row(c.a.value, ya), c.a.row(c.a.squared, ya)
	n := len(am)
	av, aq = av[:n], aq[:n]
	bm, bv, bq := c.b.row(c.b.seen, yb)[:n], c.b.row(c.b.value, yb)[:n], c.b.row(c.b.squared, yb)[:n]
	s0, s1, s2, s3, s4, s5 := c.sums[0][:n], c.sums[1][:n], c.sums[2][:n], c.sums[3][:n], c.sums[4][:n], c.sums[5][:n]
	for k := range n {
		m, v, q := conj(am[k]), conj(av[k]), conj(aq[k])
		s0[k] += m * bm[k]
		s1[k] += v * bm[k]
		s2[k] += m * bv[k]
		s3[k] += q * bm[k]
		s4[k] += m * bq[k]
		s5[k] += v * bv[k]
	}
}

func conj(v complex128) complex128 { return complex(real(v), -imag(v)) }

// common is the number of columns that both have at a rotation.
func (c *correlator) common(dx int) int { return min(c.bw, c.aw+dx) - max(0, dx) }

// share is the share of b's columns that both have.
func (c *correlator) share(dx int) float64 { return float64(c.common(dx)) / float64(c.bw) }
