package skeleton

import (
	"encoding/csv"
	"encoding/json"
	"image/png"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/reftest"
)

// shared finds the folder of outside check values beside the repository; without it the test is skipped, on a build
// machine it fails.
func shared(t *testing.T, parts ...string) string {
	t.Helper()
	return reftest.Path(t, parts...)
}

func rows(t *testing.T, name string) []map[string]string {
	f, err := os.Open(shared(t, "reference", name))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, k := range all[0] {
			m[k] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// fromChain walks a Freeman chain code: 0 = +x, anticlockwise with y up.
func fromChain(code string) []Pt {
	dx := [8]float64{1, 1, 0, -1, -1, -1, 0, 1}
	dy := [8]float64{0, -1, -1, -1, 0, 1, 1, 1}
	p := []Pt{{}}
	for _, c := range code {
		k, l := int(c-'0'), p[len(p)-1]
		p = append(p, Pt{l.X + dx[k], l.Y + dy[k]})
	}
	return p
}

func number(t *testing.T, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// Values: ../shared/reference/length_lines.csv (digitised by skimage.draw, true length exact).
func TestLengthOfDigitisedLinesIsUnbiased(t *testing.T) {
	var sum, worst float64
	var n int
	for _, r := range rows(t, "length_lines.csv") {
		truth := number(t, r["true_length"])
		if r["set"] != "end_points_on_pixel_centres" {
			continue // there the line ends between pixels, which no centreline of pixels can know
		}
		e := SmoothLength(fromChain(r["chain_code"]), DefaultOptions().SigmaPx)/truth - 1
		if truth > 100 {
			worst = math.Max(worst, math.Abs(e))
		}
		sum += e
		n++
	}
	require.Greater(t, n, 100)
	t.Logf("bias %.3f %%, worst over 100 px %.3f %% (n %d)", 100*sum/float64(n), 100*worst, n)
	assert.Less(t, math.Abs(sum/float64(n)), 0.01)
	assert.Less(t, worst, 0.03)
}

// Values: the same file, lines cut at their two end columns.
func TestLengthOfLinesAtAnyOffset(t *testing.T) {
	var sum, worst float64
	var n int
	for _, r := range rows(t, "length_lines.csv") {
		truth := number(t, r["true_length"])
		if r["set"] != "line_at_any_offset" || truth < 100 {
			continue
		}
		e := SmoothLength(fromChain(r["chain_code"]), DefaultOptions().SigmaPx)/truth - 1
		worst = math.Max(worst, math.Abs(e))
		sum += e
		n++
	}
	require.NotZero(t, n)
	t.Logf("bias %.3f %%, worst %.3f %% (n %d)", 100*sum/float64(n), 100*worst, n)
	assert.Less(t, math.Abs(sum/float64(n)), 0.01)
	assert.Less(t, worst, 0.03)
}

// Values: ../shared/reference/length_circles.csv (truth 2 pi r).
func TestLengthOfDigitisedCircles(t *testing.T) {
	var sum float64
	var n int
	for _, r := range rows(t, "length_circles.csv") {
		truth := number(t, r["true_circumference"])
		e := SmoothLength(fromChain(r["chain_code"]), DefaultOptions().SigmaPx)/truth - 1
		sum += e
		n++
		if truth > 100 {
			assert.Less(t, math.Abs(e), 0.03, "radius %s", r["radius"])
		}
	}
	t.Logf("bias %.3f %% (n %d)", 100*sum/float64(n), n)
	assert.Less(t, math.Abs(sum/float64(n)), 0.01)
}

func readMask(t *testing.T, path string) raster.Mask {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	b := img.Bounds()
	m := raster.NewMask(b.Dx(), b.Dy())
	for y := range m.H {
		for x := range m.W {
			if v, _, _, _ := img.At(x, y).RGBA(); v > 0x7fff {
				m.Pix[y*m.W+x] = 1
			}
		}
	}
	return m
}

// Values: ../shared/reference/roots.json and roots/*.png (spline root systems, exact centreline length).
func TestRootSystemsHaveTheirTrueLength(t *testing.T) {
	raw, err := os.ReadFile(shared(t, "reference", "roots.json"))
	require.NoError(t, err)
	var doc struct {
		Systems []struct {
			File      string  `json:"file"`
			Truth     float64 `json:"true_centreline_length_px"`
			Branches  int     `json:"branches"`
			Crossings int     `json:"crossings"`
			FreeEnds  int     `json:"free_ends"`
		} `json:"systems"`
	}
	require.NoError(t, json.Unmarshal(raw, &doc))
	var sum float64
	for _, s := range doc.Systems {
		m := readMask(t, shared(t, "reference", s.File))
		roots := Trace(m, DefaultOptions())
		var l float64
		for i := range roots {
			l += roots[i].LengthPx()
		}
		e := l/s.Truth - 1
		sum += e
		t.Logf("%s: %d branches %d crossings -> %d roots, length %.1f of %.1f: %+.2f %%", s.File, s.Branches, s.Crossings, len(roots), l, s.Truth, 100*e)
		assert.Less(t, math.Abs(e), 0.03, s.File)
	}
	bias := sum / float64(len(doc.Systems))
	t.Logf("bias %+.2f %%", 100*bias)
	assert.Less(t, math.Abs(bias), 0.01)
}
