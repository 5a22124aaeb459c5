package geom

import "math"

// Fit is the outcome of a least-squares fit.
type Fit struct {
	P   []float64   // the parameters
	Cov [][]float64 // inverse of J'J: the parameters' covariance for residuals of unit standard deviation; nil if singular
	SS  float64     // sum of squared residuals
}

// Steps of the method (common practice; chosen by eye, none was measured).
const (
	firstDamping    = 1e-4 // Marquardt's lambda at the start
	leastDamping    = 1e-12
	dampingFactor   = 10.0 // by which lambda grows after a step that made it worse, and shrinks after a good one (Marquardt 1963)
	mostTries       = 12   // steps tried from one place
	settled         = 1e-13
	leastCurvature  = 1e-30
	derivativeStep  = 1e-6 // of a parameter's size: about the cube root of the precision, which central differences want (common practice)
	leastSize       = 0.1
	leastPivotShare = 1e-15 // of the diagonal: below that a matrix counts as singular
)

// lm is a fit under way.
type lm struct {
	f       func(p, r []float64)
	p, q    []float64 // the parameters, and those that are tried
	r, r2   []float64 // their residuals
	ss      float64
	J, A    [][]float64
	g       []float64 // minus J'r
	damping float64
}

// LM minimises the sum of squares of m residuals by Levenberg-Marquardt with numerical derivatives (Marquardt 1963).
// It is made for the small problems here (up to a dozen parameters); f must fill r from p.
func LM(p0 []float64, m int, f func(p, r []float64), maxIter int) Fit {
	n := len(p0)
	x := lm{f: f, p: append([]float64(nil), p0...), q: make([]float64, n), r: make([]float64, m), r2: make([]float64, m),
		J: make([][]float64, n), A: square(n), g: make([]float64, n), damping: firstDamping}
	for i := range x.J {
		x.J[i] = make([]float64, m)
	}
	f(x.p, x.r)
	x.ss = dot(x.r, x.r)
	for range maxIter {
		x.linearise()
		if !x.improve() {
			break
		}
	}
	x.linearise()
	return Fit{P: x.p, Cov: inverseSymmetric(x.A), SS: x.ss}
}

func dot(a, b []float64) (s float64) {
	for i, v := range a {
		s += v * b[i]
	}
	return
}

// linearise fills the derivatives at p, by central differences, and the normal equations.
func (x *lm) linearise() {
	copy(x.q, x.p)
	for j := range x.q {
		h := derivativeStep * math.Max(math.Abs(x.p[j]), leastSize)
		x.q[j] = x.p[j] + h
		x.f(x.q, x.r2)
		copy(x.J[j], x.r2)
		x.q[j] = x.p[j] - h
		x.f(x.q, x.r2)
		for i := range x.r2 {
			x.J[j][i] = (x.J[j][i] - x.r2[i]) / (2 * h)
		}
		x.q[j] = x.p[j]
	}
	for i := range x.A {
		for j := 0; j <= i; j++ {
			s := dot(x.J[i], x.J[j])
			x.A[i][j], x.A[j][i] = s, s
		}
		x.g[i] = -dot(x.J[i], x.r)
	}
}

// improve takes the first step that makes the sum smaller; false where none does, or by nothing to speak of.
func (x *lm) improve() bool {
	n := len(x.p)
	for range mostTries {
		B := square(n)
		for i := range n {
			copy(B[i], x.A[i])
			B[i][i] += x.damping * math.Max(x.A[i][i], leastCurvature)
		}
		d, ok := SolveSymmetric(B, x.g)
		if !ok {
			x.damping *= dampingFactor
			continue
		}
		for i := range n {
			x.q[i] = x.p[i] + d[i]
		}
		x.f(x.q, x.r2)
		if s := dot(x.r2, x.r2); s < x.ss {
			small := x.ss-s <= settled*x.ss
			copy(x.p, x.q)
			copy(x.r, x.r2)
			x.ss = s
			x.damping = math.Max(x.damping/dampingFactor, leastDamping)
			return !small
		}
		x.damping *= dampingFactor
	}
	return false
}

func square(n int) [][]float64 {
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n)
	}
	return a
}

// SolveSymmetric solves A x = b for a symmetric positive matrix, scaled by its diagonal first so that parameters of
// very different size (mm, radians, px) do not spoil it. ok is false where A is singular.
func SolveSymmetric(A [][]float64, b []float64) (x []float64, ok bool) {
	n := len(b)
	s := make([]float64, n)
	for i := range n {
		if A[i][i] <= 0 || math.IsNaN(A[i][i]) {
			return nil, false
		}
		s[i] = 1 / math.Sqrt(A[i][i])
	}
	L, ok := cholesky(A, s)
	if !ok {
		return nil, false
	}
	x = make([]float64, n)
	for i := range n {
		v := b[i] * s[i]
		for k := range i {
			v -= L[i][k] * x[k]
		}
		x[i] = v / L[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < n; k++ {
			v -= L[k][i] * x[k]
		}
		x[i] = v / L[i][i]
	}
	for i := range n {
		x[i] *= s[i]
	}
	return x, true
}

// cholesky is the lower factor of A with rows and columns scaled by s.
func cholesky(A [][]float64, s []float64) (L [][]float64, ok bool) {
	L = square(len(s))
	for i := range L {
		for j := 0; j <= i; j++ {
			v := A[i][j] * s[i] * s[j]
			for k := range j {
				v -= L[i][k] * L[j][k]
			}
			if i != j {
				L[i][j] = v / L[j][j]
				continue
			}
			if v <= leastPivotShare {
				return nil, false
			}
			L[i][i] = math.Sqrt(v)
		}
	}
	return L, true
}

func inverseSymmetric(A [][]float64) [][]float64 {
	n := len(A)
	out := square(n)
	for j := range n {
		e := make([]float64, n)
		e[j] = 1
		x, ok := SolveSymmetric(A, e)
		if !ok {
			return nil
		}
		for i := range n {
			out[i][j] = x[i]
		}
	}
	return out
}
