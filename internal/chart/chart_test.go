package chart

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func monthly(n int, value func(i int) float64) []Point {
	var out []Point
	for i := range n {
		out = append(out, Point{At: day(2026, time.March, 7).AddDate(0, i, 0), Value: value(i), U95: 4, Words: "session " + strconv.Itoa(i)})
	}
	return out
}

// wellFormed reads the SVG as XML to its end.
func wellFormed(t *testing.T, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		_, err := d.Token()
		if err == io.EOF {
			return
		}
		require.NoError(t, err)
	}
}

func TestChartSaysWhatItShows(t *testing.T) {
	s := Spec{ID: "c1", Title: `Leaf area of "A & B" <12>`, Desc: "Five sessions.", Series: []Series{{Kind: "value", Points: monthly(5, func(i int) float64 { return 200 + 20*float64(i) })}},
		Marks:      []Mark{{At: day(2026, time.April, 18), Letter: "A", Words: "A: repotted <b>"}},
		Trends:     []Trend{{From: day(2026, time.March, 7), To: day(2026, time.July, 7), FromValue: 200, ToValue: 280}},
		Comparison: [][]Point{monthly(5, func(i int) float64 { return 200 + 5*float64(i) })},
		Replicates: []Point{{At: day(2026, time.March, 7), Value: 199}}}
	svg, err := SVG(s)
	require.NoError(t, err)
	wellFormed(t, svg)
	assert.Contains(t, svg, `role="img" aria-labelledby="c1-t c1-d"`)
	assert.Contains(t, svg, "&lt;12&gt;")
	assert.NotContains(t, svg, "<b>")
	for i := range 5 {
		assert.Contains(t, svg, "<title>session "+strconv.Itoa(i)+"</title>", "every point speaks")
	}
	for _, class := range []string{"k-value", "other", "trend", "event", "replicate"} {
		assert.Regexp(t, `class="[sf] `+class+`"`, svg)
	}
	assert.NotRegexp(t, `#[0-9a-f]{6}`, svg, "colours are the page's")
}

// TestPointsStandWhereTheyBelong reads the spots' positions back: equal steps in time and value are equal steps in px,
// and more is higher.
func TestPointsStandWhereTheyBelong(t *testing.T) {
	pts := []Point{{At: day(2026, time.March, 1), Value: 10, Words: "a"}, {At: day(2026, time.March, 31), Value: 20, Words: "b"}, {At: day(2026, time.April, 30), Value: 30, Words: "c"}}
	svg, err := SVG(Spec{ID: "x", Series: []Series{{Kind: "value", Points: pts}}})
	require.NoError(t, err)
	found := regexp.MustCompile(`class="pt" cx="([\d.]+)" cy="([\d.]+)"`).FindAllStringSubmatch(svg, -1)
	require.Len(t, found, 3)
	var x, y [3]float64
	for i, f := range found {
		x[i], _ = strconv.ParseFloat(f[1], 64)
		y[i], _ = strconv.ParseFloat(f[2], 64)
	}
	assert.InDelta(t, x[1]-x[0], x[2]-x[1], 0.15)
	assert.InDelta(t, y[1]-y[0], y[2]-y[1], 0.15)
	assert.Less(t, y[2], y[0])
	assert.Greater(t, x[2], x[0])
}

func TestOddInput(t *testing.T) {
	for _, c := range []struct {
		name  string
		spec  Spec
		empty bool
	}{
		{"nothing", Spec{}, true},
		{"only values that are none", Spec{Series: []Series{{Points: []Point{{At: day(2026, 3, 7), Value: math.NaN(), U95: 1}}}}}, true},
		{"one point", Spec{Series: []Series{{Points: monthly(1, func(int) float64 { return 5 })}}}, false},
		{"all equal, no interval", Spec{Series: []Series{{Points: []Point{{At: day(2026, 3, 7), Value: 0}, {At: day(2026, 4, 7), Value: 0}}}}}, false},
		{"an infinite interval", Spec{Series: []Series{{Points: []Point{{At: day(2026, 3, 7), Value: 3, U95: math.Inf(1)}, {At: day(2026, 4, 7), Value: 4, U95: 1}}}}}, false},
		{"an unknown kind", Spec{Series: []Series{{Kind: "puce", Points: monthly(3, func(i int) float64 { return float64(i) })}}}, false},
		{"an event outside", Spec{Series: []Series{{Points: monthly(3, func(i int) float64 { return 1 })}}, Marks: []Mark{{At: day(2020, 1, 1), Letter: "A"}}}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			svg, err := SVG(c.spec)
			require.NoError(t, err)
			assert.Equal(t, c.empty, svg == "")
			assert.NotContains(t, svg, "NaN")
			assert.NotContains(t, svg, "Inf")
			wellFormed(t, svg)
		})
	}
}

func TestTicks(t *testing.T) {
	labels := func(a, b time.Time) (out []string) {
		for _, k := range (months{}).Ticks(sec(a), sec(b)) {
			out = append(out, k.Label)
		}
		return out
	}
	assert.Equal(t, []string{"Nov 2025", "Dec", "Jan 2026", "Feb"}, labels(day(2025, 10, 28), day(2026, 2, 20)))
	assert.LessOrEqual(t, len(labels(day(2023, 1, 1), day(2026, 1, 1))), 8)
	assert.Equal(t, []string{"2006", "2011", "2016", "2021", "2026"}, labels(day(2001, 6, 1), day(2026, 1, 1)), "some years, where not all fit")
	var y []string
	for _, k := range (round{}).Ticks(-0.3, 1.1) {
		y = append(y, k.Label)
	}
	assert.Equal(t, []string{"0.0", "0.5", "1.0"}, y)
	assert.Empty(t, (round{}).Ticks(1, 1))
}

func TestNoBarBelowZeroOfAShare(t *testing.T) {
	s := Spec{Floor: true, MinSpan: 6}
	assert.InDelta(t, 0.4, s.below(Point{Value: 0.4, U95: 1.2}), 1e-12)
	lo, hi := s.widen(0, 1)
	assert.Zero(t, lo)
	assert.InDelta(t, 6, hi, 1e-12)
}

func TestAShareEndsAtAHundredPerCent(t *testing.T) {
	s := Spec{Ceiling: 100, MinSpan: 6, Series: []Series{{Points: monthly(3, func(int) float64 { return 99.5 })}}}
	lo, hi, ok := s.extent()
	assert.True(t, ok)
	assert.InDelta(t, 100, hi, 1e-9)
	assert.GreaterOrEqual(t, hi-lo, 6.0, "and the axis still covers its span")
	assert.InDelta(t, 0.5, s.above(Point{Value: 99.5, U95: 4}), 1e-9, "no interval reaches beyond")
}
