package part

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/change"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// simulated draws one photo of a line of known length: print, common and shot depth, slope, turn and clicks each from what the
// budget declares. It gives the measured quantity of a line between two clicks.
type simulated struct {
	rng       *rand.Rand
	print     float64 // true mm per printed mm
	depth     float64 // common
	slope     float64 // of the part out of the card's plane, rad
	lengthMM  float64
	direction float64
	view      [2]float64 // the grower's usual side, rad
}

func newSimulated(rng *rand.Rand, s Settings) simulated {
	return simulated{rng: rng, print: math.Exp(0.01 * rng.NormFloat64()), depth: s.DepthMM * (2*rng.Float64() - 1),
		slope: s.SlopeDeg * math.Pi / 180 * (2*rng.Float64() - 1), lengthMM: 40 + 200*rng.Float64(), direction: 2 * math.Pi * rng.Float64(),
		view: [2]float64{habit * rng.NormFloat64(), habit * rng.NormFloat64()}}
}

const simClickPx = 1.5

// habit and anew are how growers stand, and how they stand otherwise from day to day, rad, as package scenemaker draws them.
const (
	habit = 6 * math.Pi / 180
	anew  = 3.2 * math.Pi / 180
)

func (m simulated) photo(t *testing.T, s Settings) record.Quantity {
	r := m.rng
	// The camera: some 600 mm off, tilted by some degrees; the card's frame is the world, so that pose errors are nothing here.
	cam := geom.Camera{F: 2400, CX: 999.5, CY: 749.5}
	cam.R = geom.Rodrigues(geom.Vec3{m.view[0] + anew*r.NormFloat64(), m.view[1] + anew*r.NormFloat64(), 0.05 * r.NormFloat64()})
	dist := 600 * math.Exp(0.05*r.NormFloat64())
	mid := cam.R.Vec(geom.Vec3{0, 0, 0})
	cam.T = geom.Vec3{-mid[0] + 20*r.NormFloat64(), -mid[1] + 20*r.NormFloat64(), dist}
	depth := m.depth + s.DepthShotMM*(2*r.Float64()-1)
	slope := m.slope + 2*math.Pi/180*r.NormFloat64()
	centre := geom.Vec3{-80 + 15*r.NormFloat64(), 40 + 15*r.NormFloat64(), -depth}
	c, sn := math.Cos(m.direction), math.Sin(m.direction)
	end := func(k float64) geom.PX {
		h := k * m.lengthMM / 2
		p := cam.Px(geom.Vec3{centre[0] + h*c*math.Cos(slope), centre[1] + h*sn*math.Cos(slope), centre[2] - h*math.Sin(slope)})
		return geom.PX{X: p.X + simClickPx*r.NormFloat64(), Y: p.Y + simClickPx*r.NormFloat64()}
	}
	// The print is larger than it says by a factor: millimetres come out smaller by it.
	h := cam.Plane(0)
	for _, i := range []int{0, 1, 3, 4, 6, 7} {
		h[i] *= m.print
	}
	plane, err := NewPlane(h)
	require.NoError(t, err)
	in := Input{Img: raster.BGR{W: 2000, H: 1500}, Surface: plane, EdgeSpreadPx: 2, DistanceMM: dist, Eye: cam.Centre(), PrintRelU: 0.01}
	// 2.5 screen pixels are what a hand is off by.
	q, err := Measure(in, Line{Points: []geom.PX{end(-1), end(1)}, NoSnap: true, Zoom: handPx / simClickPx, Length: true}, s)
	if err != nil { // out of the frame
		return record.Quantity{Value: math.NaN()}
	}
	return q.Quantities[0]
}

// The interval of a length holds the part's own length in 93 to 97 of 100 simulated photos.
func TestLengthIntervalsHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(93, 97))
	s := DefaultSettings()
	hold, n := 0, 0
	for n < 6000 {
		m := newSimulated(rng, s)
		q := m.photo(t, s)
		if math.IsNaN(q.Value) {
			continue
		}
		n++
		if math.Abs(q.Value-m.lengthMM) <= q.U95 {
			hold++
		}
	}
	share := float64(hold) / float64(n)
	t.Logf("the interval holds in %.1f %% of %d", 100*share, n)
	assert.Greater(t, share, 0.93)
	assert.Less(t, share, 0.97)
}

// Parts that do not change are called changed in 3 to 6 of 100 comparisons, as other unchanging quantities are.
func TestUnchangedPartsAreSeldomCalledChanged(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 300))
	s := DefaultSettings()
	for _, sessions := range []int{2, 6} {
		in := change.Input{From: "2025-01-01", To: "2030-12-31", Settings: change.DefaultSettings()}
		for plant := 1; plant <= 800; plant++ {
			m := newSimulated(rng, s)
			in.Plants = append(in.Plants, record.Plant{Number: plant})
			in.Parts = append(in.Parts, record.Part{Plant: plant, Part: "spike 1", Kind: "spike"})
			for k := range sessions {
				q := m.photo(t, s)
				if math.IsNaN(q.Value) {
					continue
				}
				q.Part = "spike 1"
				// What the prior stands for and the budget does not know: the foot is not set at quite the same place again.
				st := change.DefaultSettings()
				q.Value += rng.NormFloat64() * math.Hypot(0.2, st.NoisePartLength*q.Value)
				in.Photos = append(in.Photos, record.Photo{Name: "p", Plant: plant, View: record.Leaf, Status: record.Accepted, Quantities: []record.Quantity{q},
					Taken: record.Stamp{Time: time.Date(2026, time.Month(1+k), 10, 10, 0, 0, 0, time.UTC), Source: "exif"}})
			}
		}
		false95, n := 0, 0
		for _, c := range change.Analyze(in).Changes {
			if c.Basis != record.BasisLast || c.Verdict == record.TooFew {
				continue
			}
			n++
			if c.Verdict != record.NoChange {
				false95++
			}
		}
		share := float64(false95) / float64(n)
		t.Logf("%d sessions: %.1f %% of %d comparisons of unchanged lengths are called a change", sessions, 100*share, n)
		assert.Greater(t, share, 0.03)
		assert.Less(t, share, 0.06)
	}
}
