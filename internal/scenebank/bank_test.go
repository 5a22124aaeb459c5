package scenebank

import (
	"bytes"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
	"phototrack/internal/uncert"
)

func sample() Row {
	p := record.Photo{Status: record.Flagged, Quantities: []record.Quantity{
		uncert.Quantity("leaf_area", "mm2", 7614.5, uncert.Normal("scale fit", 30), uncert.Rectangular("depth shot", 100), uncert.Common(uncert.Normal("print", 150)),
			uncert.Common(uncert.Rectangular("leaf slope", 200))),
		uncert.Quantity("leaf_hue", "deg", 124.5, uncert.Normal("colour fit", 1)),
		uncert.Quantity("scale", "px_per_mm", 3.25, uncert.Normal("scale fit", 0.01)),
	}}
	truth := scenemaker.Truth{AreaMM2: 7700, Share: [4]float64{0.9, 0.1, 0, 0}, ScalePxPerMM: 3.2, TiltDeg: 12, DistanceMM: 450}
	return NewRow(Place{7, 3, 1, 0}, truth, &p, "soft")
}

func TestRowThereAndBack(t *testing.T) {
	want := sample()
	var b bytes.Buffer
	w, err := NewWriter(&b, "2026.1.2")
	require.NoError(t, err)
	require.NoError(t, w.Write(&want))
	require.NoError(t, Append(&b).Write(&want))
	rows, version, err := Read(&b)
	require.NoError(t, err)
	assert.Equal(t, "2026.1.2", version)
	require.Len(t, rows, 2)
	for _, got := range rows {
		assert.Equal(t, want.Place, got.Place)
		assert.Equal(t, want.Status, got.Status)
		assert.Equal(t, want.Codes, got.Codes)
		assert.Equal(t, want.Truth, got.Truth)
		require.Len(t, got.Measured, 3)
		for n, v := range want.Measured {
			g := got.Measured[n]
			assert.InEpsilon(t, v.Value, g.Value, 1e-5, n)
			if n != "scale" { // of the pose only the interval is kept
				assert.InDelta(t, v.Varying, g.Varying, 0.005*v.U95, n)
			}
			assert.InDelta(t, v.U95, g.U95, 0.005*v.U95, n)
		}
		assert.InEpsilon(t, 200/math.Sqrt(3), got.Measured["leaf_area"].Slope, 0.005)
		assert.Equal(t, 7700.0, got.TruthOf("leaf_area"))
		assert.Equal(t, 0.1, got.TruthOf("yellow_share"))
		assert.True(t, math.IsNaN(got.TruthOf("leaf_hue")))
	}
	for _, bad := range []string{"", "plant,session\n", "# measuring version 1; x\nplant,session\n"} {
		_, _, err := Read(bytes.NewReader([]byte(bad)))
		assert.Error(t, err, "%q", bad)
	}
}

// As a stored photo a row has the budget that was measured, parted into what varies and what is common.
func TestRowAsPhoto(t *testing.T) {
	r := sample()
	p := r.Photo(12, time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), "a.jpg")
	assert.Equal(t, 12, p.Plant)
	q, ok := p.Find("leaf_area")
	require.True(t, ok)
	common, varying := uncert.Split(q.Terms)
	assert.InDelta(t, math.Hypot(30, 100/math.Sqrt(3)), uncert.Standard(varying), 1e-9)
	assert.InDelta(t, math.Hypot(150, 200/math.Sqrt(3)), uncert.Standard(common), 1e-9)
	_, ok = p.Find("scale")
	assert.False(t, ok, "of the photo, not of the plant")
}

// Replicates share plant and set-up, sessions the plant and its grower, and nothing else.
func TestPlaces(t *testing.T) {
	places := Places()
	seen := map[Place]bool{}
	photos := [4]int{}
	for _, p := range places {
		require.False(t, seen[p])
		seen[p] = true
		if p.Level == 0 && p.Session == 0 && p.Replicate == 0 {
			photos[Replicates(p.Plant)]++
		}
	}
	assert.Equal(t, [4]int{0, Plants / 2, Plants / 4, Plants / 4}, photos, "plants with one, two and three photos a session")
	at := func(session, replicate, level int) *scenemaker.Scene {
		return Scene(Place{4, session, replicate, level})
	}
	first, again, second, other := at(0, 0, 0), at(0, 0, 0), at(0, 1, 0), at(1, 0, 0)
	assert.Equal(t, first, again)
	assert.Equal(t, first.Stand, second.Stand)
	assert.Equal(t, first.Light, second.Light)
	assert.NotEqual(t, first.Camera.R, second.Camera.R)
	assert.Equal(t, first.Leaves, other.Leaves)
	assert.Equal(t, first.Print, other.Print)
	assert.Equal(t, first.Camera.F, other.Camera.F)
	assert.NotEqual(t, first.Stand, other.Stand)
	assert.NotEqual(t, first.Light, other.Light)
	changed := at(Sessions, 0, 2)
	for i := range first.Leaves {
		assert.InEpsilon(t, 1+2*Growth, changed.Leaves[i].AreaMM2()/first.Leaves[i].AreaMM2(), 1e-9)
	}
}
