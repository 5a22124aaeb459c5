package uncert

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func rect(u float64) record.Term { return record.Term{Name: "r", U: u, Shape: record.Rectangular} }
func norm(u float64) record.Term { return record.Term{Name: "n", U: u, Shape: record.Normal} }

func TestU95PublishedExamples(t *testing.T) {
	cases := []struct {
		name   string
		source string
		terms  []record.Term
		want   float64
		tol    float64
	}{
		{"four normal", "JCGM 101:2008, 9.2.2, table 2 (from memory)", []record.Term{norm(1), norm(1), norm(1), norm(1)}, 3.92, 0.005},
		{"four rectangular", "JCGM 101:2008, 9.2.3, table 3, analytic (from memory)", []record.Term{rect(1), rect(1), rect(1), rect(1)}, 3.88, 0.005},
		{"one dominant rectangular", "JCGM 101:2008, 9.2.4, table 4, analytic (from memory)", []record.Term{rect(1), rect(1), rect(1), rect(10)}, 17.0, 0.05},
		{"one rectangular", "JCGM 100:2008, 4.3.7: 0.95 of the half-width", []record.Term{rect(1 / math.Sqrt(3))}, 0.95, 1e-12},
		{"two equal rectangular: triangle of half-width 2", "JCGM 101:2008, 4.8 note; 2(1 - sqrt 0.05)", []record.Term{rect(1 / math.Sqrt(3)), rect(1 / math.Sqrt(3))}, 2 * (1 - math.Sqrt(0.05)), 1e-9},
		{"one normal", "normal quantile 1.959964", []record.Term{norm(2)}, 2 * 1.959963984540054, 1e-12},
		{"none", "", nil, 0, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, c.want, U95(c.terms), c.tol, c.source)
		})
	}
}

// The closed form against a plain numerical convolution on a grid, for many mixtures, also with more shapes than it
// keeps.
func TestHalfWidthAgainstConvolution(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for i := range 60 {
		var terms []record.Term
		n := 1 + rng.IntN(7)
		for range n {
			u := math.Exp(2 * rng.NormFloat64())
			if rng.Float64() < 0.7 {
				terms = append(terms, rect(u))
			} else {
				terms = append(terms, norm(u))
			}
		}
		for _, level := range []float64{0.5, 0.95} {
			want := convolved(terms, level)
			tol := 1e-3
			if level == 0.5 {
				tol = 4e-3
			}
			assert.InEpsilon(t, want, HalfWidth(terms, level), tol, "mixture %d at %v: %v", i, level, terms)
		}
	}
}

// convolved finds the half-width from the characteristic function (Gil-Pelaez 1951) with a long trapezoidal sum.
func convolved(terms []record.Term, level float64) float64 {
	u := Standard(terms)
	limit := 0.0
	for _, t := range terms {
		if t.Shape == record.Rectangular {
			limit += t.U / u * math.Sqrt(3)
		} else {
			limit += 9 * t.U / u
		}
	}
	step := math.Pi / (limit + 1)
	phi := make([]float64, 20001)
	for k := 1; k < len(phi); k++ {
		x, p := float64(k)*step, 1.0
		for _, t := range terms {
			r := t.U / u
			if t.Shape == record.Rectangular {
				a := r * math.Sqrt(3) * x
				p *= math.Sin(a) / a
			} else {
				p *= math.Exp(-r * r * x * x / 2)
			}
		}
		phi[k] = p
	}
	mass := func(x float64) float64 { // probability within plus or minus x
		s := step * x
		for k := 1; k < len(phi); k++ {
			s += 2 * math.Sin(float64(k)*step*x) / float64(k) * phi[k]
		}
		return s / math.Pi
	}
	lo, hi := 0.0, limit
	for range 50 {
		m := (lo + hi) / 2
		if mass(m) < level {
			lo = m
		} else {
			hi = m
		}
	}
	return lo * u
}

func TestU95AgainstMonteCarlo(t *testing.T) {
	const draws = 200_000
	cases := map[string][]record.Term{
		"budget of a leaf":      {norm(30), rect(120), rect(80), rect(60), norm(40)},
		"depth rules":           {norm(5), rect(100), rect(6)},
		"five alike":            {rect(1), rect(1), rect(1), rect(1), rect(1)},
		"normal over two small": {norm(3), rect(1), rect(0.5)},
	}
	for name, terms := range cases {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(11, 7))
			abs := make([]float64, draws)
			for i := range abs {
				s := 0.0
				for _, term := range terms {
					if term.Shape == record.Rectangular {
						s += term.U * math.Sqrt(3) * (2*rng.Float64() - 1)
					} else {
						s += term.U * rng.NormFloat64()
					}
				}
				abs[i] = math.Abs(s)
			}
			sort.Float64s(abs)
			u := U95(terms)
			inside := float64(sort.SearchFloat64s(abs, u)) / draws
			assert.InDelta(t, 0.95, inside, 0.002, "four standard errors of the count")
		})
	}
}

func TestSplitAndQuantity(t *testing.T) {
	q := Quantity(record.LeafArea, "mm2", 20000,
		Common(Rectangular("print", 200)), Rectangular("depth shot", 300), Normal("mask edge", 50), Normal("nothing", 0))
	require.Len(t, q.Terms, 3)
	assert.InDelta(t, U95(q.Terms), q.U95, 0)
	common, varying := Split(q.Terms)
	require.Len(t, common, 1)
	require.Len(t, varying, 2)
	assert.Equal(t, "print", common[0].Name)
	assert.InDelta(t, math.Hypot(Standard(common), Standard(varying)), Standard(q.Terms), 1e-9)
	assert.InDelta(t, 2*q.U95, U95(Scale(q.Terms, -2)), 1e-9)
	assert.Len(t, Combine(common, varying, nil), 3)
}

func TestBadSizes(t *testing.T) {
	assert.True(t, math.IsNaN(U95([]record.Term{norm(math.NaN())})))
	assert.True(t, math.IsInf(U95([]record.Term{norm(math.Inf(1)), rect(1)}), 1))
	assert.True(t, math.IsNaN(HalfWidth([]record.Term{norm(1)}, 1)))
}

func FuzzU95Bounds(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 0.1)
	f.Fuzz(func(t *testing.T, a, b, c, d float64) {
		for _, x := range []float64{a, b, c, d} {
			if !(x >= 1e-6 && x <= 1e6) {
				t.Skip()
			}
		}
		terms := []record.Term{rect(a), norm(b), rect(c), rect(d)}
		u := Standard(terms)
		k := U95(terms) / u
		// About one rectangular term (1.645; a little less where small terms widen u but hardly the flank) to just
		// over a normal one: the flat-topped sums drawn here stay under 1.97.
		if !(k > 1.62 && k < 1.97) {
			t.Fatalf("k = %v for %v", k, terms)
		}
	})
}

func BenchmarkU95(b *testing.B) {
	terms := []record.Term{norm(30), rect(120), rect(80), rect(60), norm(40)}
	for b.Loop() {
		U95(terms)
	}
}
