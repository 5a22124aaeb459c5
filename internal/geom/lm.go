package geom

import "math"

// Fit is the outcome of a least-squares fit.
type Fit struct {
	P   []float64   // the parameters
	Cov [][]float64 // inverse of J'J: the parameters' covariance for residuals of unit standard deviation; nil if singular
	SS  float64     // sum of squared residuals
}

// LM minimises the sum of squares of m residuals by Levenberg-Marquardt with numerical derivatives (Marquardt 1963).
// It is made for the small problems here (up to a dozen parameters); f must fill r from p.
func LM(p0 []float64, m int, f func(p, r []float64), maxIter int) Fit {
	n := len(p0)
	p := append([]float64(nil), p0...)
	r, r2, q := make([]float64, m), make([]float64, m), make([]float64, n)
	J := make([][]float64, n)
	for i := range J {
		J[i] = make([]float64, m)
	}
	sum := func(r []float64) (s float64) {
		for _, v := range r {
			s += v * v
		}
		return
	}
	f(p, r)
	ss := sum(r)
	lambda := 1e-4
	A, g := square(n), make([]float64, n)
	jacobian := func() {
		copy(q, p)
		for j := range n {
			h := 1e-6 * math.Max(math.Abs(p[j]), 0.1)
			q[j] = p[j] + h
			f(q, r2)
			copy(J[j], r2)
			q[j] = p[j] - h
			f(q, r2)
			for i := range m {
				J[j][i] = (J[j][i] - r2[i]) / (2 * h)
			}
			q[j] = p[j]
		}
		for i := range n {
			for j := 0; j <= i; j++ {
				var s float64
				for k := range m {
					s += J[i][k] * J[j][k]
				}
				A[i][j], A[j][i] = s, s
			}
			var s float64
			for k := range m {
				s += J[i][k] * r[k]
			}
			g[i] = -s
		}
	}
	for range maxIter {
		jacobian()
		improved := false
		for range 12 {
			B := square(n)
			for i := range n {
				copy(B[i], A[i])
				B[i][i] += lambda * math.Max(A[i][i], 1e-30)
			}
			d, ok := SolveSymmetric(B, g)
			if !ok {
				lambda *= 10
				continue
			}
			for i := range n {
				q[i] = p[i] + d[i]
			}
			f(q, r2)
			if s := sum(r2); s < ss {
				small := ss-s <= 1e-13*ss
				copy(p, q)
				copy(r, r2)
				ss = s
				lambda = math.Max(lambda/10, 1e-12)
				improved = !small
				break
			}
			lambda *= 10
		}
		if !improved {
			break
		}
	}
	jacobian()
	return Fit{P: p, Cov: inverseSymmetric(A), SS: ss}
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
	L := square(n)
	for i := range n {
		for j := 0; j <= i; j++ {
			v := A[i][j] * s[i] * s[j]
			for k := range j {
				v -= L[i][k] * L[j][k]
			}
			if i == j {
				if v <= 1e-15 {
					return nil, false
				}
				L[i][i] = math.Sqrt(v)
			} else {
				L[i][j] = v / L[j][j]
			}
		}
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
