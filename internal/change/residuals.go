package change

import (
	"math"

	"phototrack/internal/record"
)

// maxRunDays: what is smooth over two or three months and a gap is not so over half a year.
var maxRunDays = map[int]float64{3: 125, 4: 160}

type residuals struct {
	s  *series
	ms float64 // mean square of the standardised residuals
	df float64 // effective degrees of freedom
	m  int     // residuals
	z4 float64 // sum of their fourth powers
	c4 float64 // and of their coefficients' fourth powers
}

// residualsOf standardises the residuals of a plant's undisturbed runs of sessions and counts their degrees of freedom
// (Satterthwaite 1946: neighbouring runs share sessions). Runs of four are used where there are any, which a bend of
// growth or a swing of the season hardly touches, else runs of three.
func (a *analysis) residualsOf(s *series) residuals {
	for _, size := range []int{4, 3} {
		if r := a.residualsOfRuns(s, size); r.df > 0 {
			return r
		}
	}
	return residuals{s: s}
}

// run is one residual: its place and the coefficients of the sessions' unit noise in it, of length 1.
type run struct {
	at int
	c  []float64
}

func (a *analysis) residualsOfRuns(s *series, size int) residuals {
	r := residuals{s: s}
	var runs []run
	sum := 0.0
	for i := 0; i+size <= len(s.points); i++ {
		p := s.points[i : i+size]
		if p[size-1].day-p[0].day > maxRunDays[size] || a.disturbed(s.plant, &p[0], &p[size-1]) || s.stuck(p) {
			continue
		}
		z, c, ok := s.residual(p)
		if !ok {
			continue
		}
		sum += z * z
		r.z4 += z * z * z * z
		for _, x := range c {
			r.c4 += x * x * x * x
		}
		runs = append(runs, run{i, c})
	}
	if len(runs) > 0 {
		m := float64(len(runs))
		r.ms, r.df, r.m = sum/m, m*m/traceOfSquare(runs), len(runs)
	}
	return r
}

// residual is the divided difference of the run, on the scale where its noise has standard deviation 1.
func (s *series) residual(p []point) (z float64, c []float64, ok bool) {
	c = make([]float64, len(p))
	e, v := 0.0, 0.0
	for i := range p {
		w := 1.0
		for j := range p {
			if j != i {
				w *= record.MonthDays / (p[i].day - p[j].day)
			}
		}
		y, u := p[i].y, p[i].UVarying
		if s.kind.relative {
			if y <= 0 {
				return 0, nil, false
			}
			y, u = math.Log(y), u/y
		}
		e += w * y
		c[i] = w * u
		v += c[i] * c[i]
	}
	if !(v > 0) {
		return 0, nil, false
	}
	for i := range c {
		c[i] /= math.Sqrt(v)
	}
	return e / math.Sqrt(v), c, true
}

// traceOfSquare is the sum of the squared correlations of all pairs of residuals.
func traceOfSquare(runs []run) float64 {
	sum := float64(len(runs))
	for i := range runs {
		for j := i + 1; j < len(runs); j++ {
			shift := runs[j].at - runs[i].at
			if shift >= len(runs[i].c) {
				break
			}
			c := 0.0
			for k := shift; k < len(runs[i].c); k++ {
				c += runs[i].c[k] * runs[j].c[k-shift]
			}
			sum += 2 * c * c
		}
	}
	return sum
}

// disturbed says whether something was done to the plant within the triple or shortly before it, or another face of
// the pot was seen.
func (a *analysis) disturbed(plant int, first, last *point) bool {
	if first.face != last.face || first.areas != last.areas {
		return true
	}
	for _, e := range a.splitting(plant) {
		d := dayNumber(e.Date)
		if d >= first.day-quietDays && d < last.day {
			return true
		}
	}
	return false
}

// mostOfShare is the noise, absolute, above which a number without a unit is a count (of tips) and no share.
const mostOfShare = 0.05

// stuck says that all three values are an empty or a full share.
func (s *series) stuck(p []point) bool {
	if s.unit != "1" || s.kind.absolute > mostOfShare {
		return false
	}
	low, high := true, true
	for i := range p {
		low = low && p[i].Value < atBound
		high = high && p[i].Value > 1-atBound
	}
	return low || high
}
