package change

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

const tol = 1e-6

func near(t *testing.T, want, got float64, what string) {
	t.Helper()
	assert.InDelta(t, want, got, tol*math.Max(1, math.Abs(want)), what)
}

type refSeries struct {
	T, Y []float64
}

type refData struct {
	Series  map[string]refSeries
	PValues map[string]struct{ P []float64 } `json:"p_values"`
	Paired  map[string]struct{ Diff []float64 }
}

// Theil-Sen, its interval, Mann-Kendall and the exact Kendall p against SciPy 1.10.1 on growth data shipped with R.
func TestTrendStatisticsAgainstSciPy(t *testing.T) {
	var data refData
	reftest.JSON(t, &data, "reference", "stats_data.json")
	var ref struct {
		Series map[string]struct {
			TheilSen struct {
				Slope float64
				Low   float64 `json:"slope_ci95_low"`
				High  float64 `json:"slope_ci95_high"`
			} `json:"theil_sen_joint"`
			Slopes []float64 `json:"pairwise_slopes_sorted"`
			MK     struct {
				S    int
				Var  float64 `json:"var_S_tie_corrected"`
				P    float64 `json:"p_normal_two_sided"`
				Ties bool
			} `json:"mann_kendall"`
			Kendall struct {
				Exact *float64 `json:"p_exact_two_sided"`
			}
		}
	}
	reftest.JSON(t, &ref, "reference", "stats_scipy.json")
	require.NotEmpty(t, ref.Series)
	exact := 0
	for name, want := range ref.Series {
		t.Run(name, func(t *testing.T) {
			s := data.Series[name]
			require.NotEmpty(t, s.T)
			near(t, want.TheilSen.Slope, TheilSen(s.T, s.Y), "slope")
			low, high := SlopeIntervalNormal(s.T, s.Y, 1.959963984540054)
			near(t, want.TheilSen.Low, low, "low")
			near(t, want.TheilSen.High, high, "high")
			for i, v := range Slopes(s.T, s.Y) {
				near(t, want.Slopes[i], v, "pairwise slope")
			}
			mk := MannKendall(s.Y)
			assert.Equal(t, want.MK.S, mk.S)
			near(t, want.MK.P, normalKendall(mk.S, variance(len(s.Y), tieSizes(s.Y))), "normal p")
			if want.Kendall.Exact != nil && !want.MK.Ties {
				exact++
				near(t, *want.Kendall.Exact, mk.P, "exact p")
			}
		})
	}
	assert.Greater(t, exact, 5, "exact values compared")
}

type refLine struct {
	Intercept, Slope float64
	InterceptSE      float64    `json:"intercept_se"`
	SlopeSE          float64    `json:"slope_se"`
	P                float64    `json:"slope_p"`
	CI               [2]float64 `json:"slope_ci95"`
	SD               float64    `json:"residual_sd"`
	DF               int
}

func compareLine(t *testing.T, want refLine, got Line) {
	t.Helper()
	near(t, want.Intercept, got.Intercept, "intercept")
	near(t, want.Slope, got.Slope, "slope")
	near(t, want.InterceptSE, got.InterceptSE, "intercept se")
	near(t, want.SlopeSE, got.SlopeSE, "slope se")
	near(t, want.SD, got.ResidualSD, "residual sd")
	assert.Equal(t, want.DF, got.DF)
	near(t, want.CI[0], got.Slope-tQuantile(float64(got.DF))*got.SlopeSE, "low")
	near(t, want.CI[1], got.Slope+tQuantile(float64(got.DF))*got.SlopeSE, "high")
	near(t, want.P, tTwoSided(got.Slope/got.SlopeSE, float64(got.DF)), "p")
}

// Least squares, relative growth rates, false discovery rates and Kendall's null distribution against R 4.2.2.
func TestLinesAndRatesAgainstR(t *testing.T) {
	var data refData
	reftest.JSON(t, &data, "reference", "stats_data.json")
	var ref struct {
		Series map[string]struct {
			OLS   refLine
			RGR   *refLine  `json:"rgr_regression_ln_y_on_t"`
			Steps []float64 `json:"rgr_per_interval"`
			Whole *float64  `json:"rgr_first_to_last"`
		}
		PAdjust map[string]struct{ P, BH []float64 } `json:"p_adjust"`
		Null    map[string]struct {
			S     []int
			Count []float64
		} `json:"kendall_null"`
	}
	reftest.JSON(t, &ref, "reference", "stats_R.json")
	require.NotEmpty(t, ref.Series)
	growth := 0
	for name, want := range ref.Series {
		t.Run(name, func(t *testing.T) {
			s := data.Series[name]
			compareLine(t, want.OLS, OLS(s.T, s.Y))
			if want.RGR != nil && want.RGR.DF > 0 {
				growth++
				compareLine(t, *want.RGR, GrowthLine(s.T, s.Y))
				for i, r := range want.Steps {
					near(t, r, GrowthRate(s.T[i], s.Y[i], s.T[i+1], s.Y[i+1]), "growth of one interval")
				}
				n := len(s.T) - 1
				near(t, *want.Whole, GrowthRate(s.T[0], s.Y[0], s.T[n], s.Y[n]), "growth first to last")
			}
		})
	}
	assert.Greater(t, growth, 5)
	for name, c := range ref.PAdjust {
		for i, q := range BenjaminiHochberg(c.P) {
			near(t, c.BH[i], q, "p.adjust "+name)
		}
	}
	require.NotEmpty(t, ref.Null)
	for name, c := range ref.Null {
		var n int
		_, err := fmt.Sscanf(name, "n%d", &n)
		require.NoError(t, err)
		null, orders := kendallNull(n), 0.0
		for _, k := range c.Count {
			orders += k
		}
		require.Len(t, null, len(c.Count))
		for i, k := range c.Count {
			assert.InDelta(t, k/orders, null[i], 1e-12, "%s S=%d", name, c.S[i])
		}
	}
}

func TestPermutationAgainstEnumeration(t *testing.T) {
	var data refData
	reftest.JSON(t, &data, "reference", "stats_data.json")
	var ref struct {
		Two map[string]struct {
			X, Y []float64
			P    float64 `json:"p_two_sided"`
		} `json:"two_sample_permutation"`
		Paired map[string]json.RawMessage `json:"paired_sign_flip"`
	}
	reftest.JSON(t, &ref, "reference", "stats_scipy.json")
	require.NotEmpty(t, ref.Two)
	for name, c := range ref.Two {
		if choose(len(c.X)+len(c.Y), len(c.X)) > maxArrangements {
			continue
		}
		p, _ := PermutationP(c.X, c.Y)
		near(t, c.P, p, name)
	}
	for _, name := range []string{"darwin", "sleep", "loblolly_10_15"} {
		var c struct {
			P float64 `json:"p_two_sided"`
		}
		require.NoError(t, json.Unmarshal(ref.Paired[name], &c))
		near(t, c.P, SignFlipP(data.Paired[name].Diff), name)
	}
}

// NIST's certified Norris data: slope, intercept and their standard deviations to 15 digits.
func TestOLSAgainstNISTNorris(t *testing.T) {
	b0, b1 := -0.262323073774029, 1.00211681802045 // certified, NIST StRD Norris
	var ref struct{ X, Y []float64 }
	reftest.JSON(t, &ref, "reference", "nist_norris.json")
	require.Len(t, ref.X, 36)
	l := OLS(ref.X, ref.Y)
	assert.InDelta(t, b0, l.Intercept, 1e-9)
	assert.InDelta(t, b1, l.Slope, 1e-12)
}

// The exact p with ties against listing every order.
func TestMannKendallWithTiesAgainstEnumeration(t *testing.T) {
	for _, y := range [][]float64{
		{1, 2, 2, 3, 5}, {1, 1, 2, 2, 2, 3}, {0, 0, 0, 0, 1}, {3, 1, 2, 2, 4, 4, 5}, {5, 5, 4, 3, 3, 3, 1}, {1, 2, 3, 4, 5, 6, 7},
		{0, 0, 0.1, 0, 0.2, 0.2, 0.3, 0.1},
	} {
		got := MannKendall(y)
		hits, all := 0, 0
		permute(append([]float64(nil), y...), func(v []float64) {
			all++
			s := 0
			for i := range v {
				for j := i + 1; j < len(v); j++ {
					if v[j] > v[i] {
						s++
					} else if v[j] < v[i] {
						s--
					}
				}
			}
			if abs(s) >= abs(got.S) {
				hits++
			}
		})
		assert.True(t, got.Exact)
		assert.InDelta(t, float64(hits)/float64(all), got.P, 1e-12, "%v", y)
	}
	assert.True(t, math.IsNaN(MannKendall([]float64{0, 0, 0, 0}).P), "nothing can be said of a constant")
	assert.True(t, math.IsNaN(MannKendall([]float64{0, 1}).P))
}

func permute(v []float64, visit func([]float64)) {
	var rec func(int)
	rec = func(k int) {
		if k == len(v) {
			visit(v)
			return
		}
		for i := k; i < len(v); i++ {
			v[k], v[i] = v[i], v[k]
			rec(k + 1)
			v[k], v[i] = v[i], v[k]
		}
	}
	rec(0)
}

func TestSmallSamplesSayWhatTheyReach(t *testing.T) {
	seq := func(n int) (t, y []float64) {
		for i := range n {
			t, y = append(t, float64(i)), append(y, float64(i*i))
		}
		return
	}
	// Levels from Kendall's null counts: 1 - 2/120, 1 - 2 x 6/720, 1 - 2 x 76/5040 (R, kendall_null n5, n6, n7).
	for n, want := range map[int]float64{5: 1 - 2.0/120, 6: 1 - 12.0/720, 7: 1 - 2*76.0/5040} {
		x, y := seq(n)
		_, _, level := SlopeInterval(x, y, 0.95)
		assert.InDelta(t, want, level, 1e-9, "%d sessions", n)
	}
	x, y := seq(4)
	_, _, level := SlopeInterval(x, y, 0.95)
	assert.True(t, math.IsNaN(level))
	p, least := PermutationP([]float64{3}, []float64{1})
	assert.True(t, math.IsNaN(p) && math.IsNaN(least), "one comparison plant shows nothing")
	p, least = PermutationP([]float64{9}, []float64{1, 2, 3})
	assert.InDelta(t, 0.25, p, 1e-12)
	assert.InDelta(t, 0.25, least, 1e-12)
}
