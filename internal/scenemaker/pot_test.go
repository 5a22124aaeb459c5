package scenemaker

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

func square() geom.Camera {
	return geom.Camera{F: 1900, CX: 799.5, CY: 599.5, R: geom.Mat3{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: geom.Vec3{0, -50, 560}}
}

// Lengths in space against closed forms: down the wall of a cylinder and a cone, and round it half a diameter inside.
func TestRootLengthsAgainstClosedForms(t *testing.T) {
	cylinder := Pot{X: -70, RimR: 45, BaseR: 45, HeightMM: 95}
	cone := Pot{X: -70, RimR: 45, BaseR: 33, HeightMM: 95}
	down := Root{AzimuthDeg: []float64{10, 10, 10, 10}, DownMM: []float64{10, 30, 50, 70}, DiameterMM: 5}
	round := Root{AzimuthDeg: []float64{-45, -15, 15, 45}, DownMM: []float64{40, 40, 40, 40}, DiameterMM: 5}
	for _, c := range []struct {
		name string
		pot  Pot
		root Root
		want float64
	}{
		{"down a cylinder", cylinder, down, 60},
		{"down a cone", cone, down, 60 * math.Hypot(1, 12.0/95)},
		{"round a cylinder", cylinder, round, math.Pi / 2 * 42.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			line := c.pot.centreline(&c.root, square())
			assert.InEpsilon(t, c.want, line[len(line)-1].along, 2e-3)
			mid := line[len(line)/2]
			r := math.Hypot(mid.at[0]-c.pot.X, mid.at[2])
			assert.InDelta(t, c.pot.radius(mid.at[1])-2.5, r, 1e-9, "half a diameter inside the wall")
		})
	}
}

func TestRibbonIsAsWideAsTheTube(t *testing.T) {
	pot := Pot{X: -70, RimR: 45, BaseR: 45, HeightMM: 95}
	line := pot.centreline(&Root{AzimuthDeg: []float64{0, 0}, DownMM: []float64{10, 80}, DiameterMM: 6}, square())
	var ring []geom.MM
	for _, p := range ribbon(line, 1, 0) {
		ring = append(ring, geom.MM(p))
	}
	r := line[0].radius
	length := math.Hypot(line[len(line)-1].px.X-line[0].px.X, line[len(line)-1].px.Y-line[0].px.Y)
	assert.InEpsilon(t, 2*r*length+math.Pi*r*r, ringArea(ring), 0.005)
}

// What lies beyond 60 degrees, or behind another root, is not seen.
func TestSeenRoots(t *testing.T) {
	grey := colour.Lab{L: 66, A: -2, B: 9}
	straight := func(az float64) Root {
		return Root{AzimuthDeg: []float64{az, az, az}, DownMM: []float64{10, 45, 80}, DiameterMM: 5, Colour: grey, TipMM: 8}
	}
	across := Root{AzimuthDeg: []float64{-30, 0, 30}, DownMM: []float64{45, 45, 45}, DiameterMM: 5, Colour: grey}
	sc := still()
	sc.Camera, sc.WidthPx, sc.HeightPx = square(), 1600, 1200
	sc.Pot = &Pot{X: -70, RimR: 45, BaseR: 45, HeightMM: 95, Roots: []Root{straight(0), straight(50), straight(70), across}}
	_, truth, err := Draw(sc)
	require.NoError(t, err)
	assert.InDelta(t, 70+70-5+42.5*math.Pi/3, truth.Roots.VisibleMM, 1, "one hidden under the crossing, for its diameter")
	assert.InDelta(t, 3*70+42.5*math.Pi/3, truth.Roots.WholeMM, 0.2)
	assert.Equal(t, 2, truth.Roots.Tips)
	assert.Zero(t, truth.AreaMM2)
}
