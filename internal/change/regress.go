package change

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Line is a straight line fitted by ordinary least squares.
type Line struct {
	Intercept, Slope     float64
	InterceptSE, SlopeSE float64 // from the residuals; NaN with two points
	ResidualSD           float64
	DF                   int
}

// OLS fits y = intercept + slope t. NaN for fewer than two different times.
func OLS(t, y []float64) Line {
	n := float64(len(t))
	var mt, my float64
	for i := range t {
		mt += t[i] / n
		my += y[i] / n
	}
	var stt, sty float64
	for i := range t {
		stt += (t[i] - mt) * (t[i] - mt)
		sty += (t[i] - mt) * (y[i] - my)
	}
	if len(t) < 2 || stt == 0 {
		nan := math.NaN()
		return Line{nan, nan, nan, nan, nan, 0}
	}
	l := Line{Slope: sty / stt, DF: len(t) - 2}
	l.Intercept = my - l.Slope*mt
	ss := 0.0
	for i := range t {
		r := y[i] - my - l.Slope*(t[i]-mt)
		ss += r * r
	}
	l.ResidualSD = math.Sqrt(ss / float64(l.DF)) // 0/0 = NaN with two points
	l.SlopeSE = l.ResidualSD / math.Sqrt(stt)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/n+mt*mt/stt)
	return l
}

// GrowthLine is the line of ln w on t; its slope is the mean relative growth rate over all points (Hunt 1982).
func GrowthLine(t, w []float64) Line {
	ln := make([]float64, len(w))
	for i, x := range w {
		if !(x > 0) {
			nan := math.NaN()
			return Line{nan, nan, nan, nan, nan, 0}
		}
		ln[i] = math.Log(x)
	}
	return OLS(t, ln)
}

// manyDF is where Student's t is as good as normal: its 97.5 % point is 1.9602 against 1.9600.
const manyDF = 10_000

// tQuantile is the half-width in standard errors of a 95 % interval with df degrees of freedom.
func tQuantile(df float64) float64 {
	if !(df < manyDF) {
		return 1.959963984540054
	}
	return distuv.StudentsT{Sigma: 1, Nu: math.Max(df, 1)}.Quantile(0.975)
}

// tTwoSided is the probability of a t at least as far from zero.
func tTwoSided(t, df float64) float64 {
	t = math.Abs(t)
	if !(df < manyDF) {
		return math.Erfc(t / math.Sqrt2)
	}
	return 2 * distuv.StudentsT{Sigma: 1, Nu: math.Max(df, 1)}.CDF(-t)
}
