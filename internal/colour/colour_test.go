package colour

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

// The 34 pairs published with the formula: Sharma, Wu & Dalal 2005, table 1, as shipped in scikit-image. Printed to
// four decimals, so half a unit of the last one is the tolerance; pair 10 lies on a branch and is met too.
func TestDeltaE2000PublishedPairs(t *testing.T) {
	rows := reftest.CSV(t, "reference", "ciede2000.csv")
	require.Len(t, rows, 34)
	n := func(r map[string]string, k string) float64 { return reftest.Num(t, r[k]) }
	for _, r := range rows {
		x, y := Lab{n(r, "L1"), n(r, "a1"), n(r, "b1")}, Lab{n(r, "L2"), n(r, "a2"), n(r, "b2")}
		want := n(r, "dE00_published")
		assert.InDelta(t, want, DeltaE2000(x, y), 5.1e-5, "pair %s", r["pair"])
		assert.InDelta(t, want, DeltaE2000(y, x), 5.1e-5, "pair %s the other way round", r["pair"])
	}
}

// Three of the published pairs stand here too, so that the check means something without the reference files.
func TestDeltaE2000ThreePairs(t *testing.T) {
	for _, c := range []struct {
		x, y Lab
		want float64
	}{
		{Lab{50, 2.6772, -79.7751}, Lab{50, 0, -82.7485}, 2.0425},
		{Lab{50, 2.5, 0}, Lab{73, 25, -18}, 27.1492},
		{Lab{2.0776, 0.0795, -1.1350}, Lab{0.9033, -0.0636, -0.5514}, 0.9082},
	} {
		assert.InDelta(t, c.want, DeltaE2000(c.x, c.y), 5.1e-5)
	}
}

// scikit-image's values for 35 colours; 0.03 accepts the three common ways to round the matrix (they differ by 0.02).
func TestLabAgainstScikitImage(t *testing.T) {
	for _, r := range reftest.CSV(t, "reference", "srgb_lab.csv") {
		n := func(k string) float64 { return reftest.Num(t, r[k]) }
		c := FromSRGB8(uint8(n("R8")), uint8(n("G8")), uint8(n("B8")))
		assert.InDelta(t, n("lin_R"), c[0], 1e-9)
		assert.InDelta(t, n("lin_G"), c[1], 1e-9)
		assert.InDelta(t, n("lin_B"), c[2], 1e-9)
		got := c.Lab()
		const tol = 0.03
		assert.InDelta(t, n("L"), got.L, tol, r["name"])
		assert.InDelta(t, n("a"), got.A, tol, r["name"])
		assert.InDelta(t, n("b"), got.B, tol, r["name"])
		if r["h_ab_deg"] != "" {
			assert.InDelta(t, n("h_ab_deg"), got.HueDeg(), 0.15, r["name"])
		}
		assert.Equal(t, uint8(n("R8")), Encode8(c[0]), "encoding undoes decoding")
	}
}

// Exact fractions of the two published formulas (the formulas themselves from memory, see the reference's notes).
func TestIndices(t *testing.T) {
	for _, r := range reftest.CSV(t, "reference", "veg_indices.csv") {
		n := func(k string) float64 { return reftest.Num(t, r[k]) }
		assert.InDelta(t, n("ExG"), ExcessGreen(n("R8"), n("G8"), n("B8")), 1e-12, r["name"])
		if r["DGCI"] != "" {
			assert.InDelta(t, n("DGCI"), DGCI(n("R8"), n("G8"), n("B8")), 1e-12, r["name"])
		}
	}
}
