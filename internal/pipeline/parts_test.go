package pipeline

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/geom"
	"phototrack/internal/measure/part"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
)

// partScene is a rendered plant with parts on a day.
func partScene(seed uint64, m scenemaker.Month, change func(*scenemaker.Plant, *scenemaker.Habit, *scenemaker.Setting)) *scenemaker.Scene {
	r := rand.New(rand.NewPCG(seed, 1))
	p := scenemaker.PartsPlant(r, 52, m)
	h := scenemaker.NewHabit(r)
	h.Print = scenemaker.Print{Across: 1, Down: 1}
	h.Fill = 0.85
	s := scenemaker.SetUp(rand.New(rand.NewPCG(seed, 2)), p, h, time.Date(2026, 3, 5, 10, 0, 0, 0, time.UTC))
	if change != nil {
		change(&p, &h, &s)
		s.Plant, s.Habit = p, h
	}
	return scenemaker.Shoot(rand.New(rand.NewPCG(seed, 3)), s)
}

// calibrated renders and calibrates a scene.
func calibrated(t testing.TB, sc *scenemaker.Scene) *measuring {
	t.Helper()
	shot, err := scenemaker.Render(sc)
	require.NoError(t, err)
	frame, err := photo.Read(shot.JPEG, photo.Limits{})
	require.NoError(t, err)
	s := collection.DefaultSettings()
	s.Measurement.UnmeasuredPrint = 0.0001
	m := &measuring{job: Job{Name: "scene"}, p: &record.Photo{Name: "scene", WidthPx: frame.WidthPx, HeightPx: frame.HeightPx}, settings: s, frame: frame}
	require.True(t, m.calibrate())
	if dir := os.Getenv("PARTS_PICTURES"); dir != "" {
		require.NoError(t, os.WriteFile(fmt.Sprintf("%s/scene%d.jpg", dir, sc.Seed%1000), shot.JPEG, 0o644))
	}
	return m
}

// along are points clicked along the middle of a leaf-shaped part, each off by a hand's standard deviation in px.
func along(rng *rand.Rand, sc *scenemaker.Scene, leaf, clicks int, sd float64) (out []geom.PX) {
	for i := range clicks {
		p, _ := sc.On(leaf, float64(i)/float64(clicks-1), 0)
		if i > 0 && i < clicks-1 {
			p.X += sd * rng.NormFloat64()
			p.Y += sd * rng.NormFloat64()
		}
		out = append(out, p)
	}
	return
}

func measureLine(t testing.TB, m *measuring, l part.Line, s part.Settings) part.Result {
	t.Helper()
	in := m.partInput()
	r, err := part.Measure(in, l, s)
	require.NoError(t, err)
	return r
}

func valueOf(r part.Result, name record.QuantityName) record.Quantity {
	for _, q := range r.Quantities {
		if q.Name == name {
			return q
		}
	}
	return record.Quantity{Value: math.NaN()}
}

// flat puts the plant into the card's plane: what is left is drawing and the card's own scale.
func flat(p *scenemaker.Plant, h *scenemaker.Habit, s *scenemaker.Setting) {
	h.DepthMM, s.Stand.DepthMM, s.Stand.TurnDeg, s.Stand.LeanDeg = 0, 0, 0, 0
}

func TestSpikesOrgansAndLeavesOfKnownSize(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	var lengths, widths, spikeWidths, bends, found, moved []float64
	for seed := range uint64(3) {
		m := scenemaker.Month{Spike: 90 + 40*float64(seed), SpikeBend: 0.5 * float64(seed), Bulb: 18 + 2*float64(seed), LeafBend: 0.5 * float64(seed)}
		sc := partScene(seed, m, flat)
		cal := calibrated(t, sc)
		mmPx := 1 / cal.cal.ScalePxPerMM
		r := measureLine(t, cal, part.Line{Points: along(rng, sc, scenemaker.PartSpike, 5, 0.8/mmPx*0.8), Length: true, Bend: true, Angle: true, Zoom: 1.5}, part.DefaultSettings())
		q := valueOf(r, record.PartLength)
		lengths = append(lengths, q.Value/m.Spike-1)
		spikeWidths = append(spikeWidths, r.WidthMM-sc.Leaves[scenemaker.PartSpike].WidthAt(0.5))
		found = append(found, r.FoundShare)
		bends = append(bends, valueOf(r, record.PartBend).Value-m.SpikeBend*2/3*180/math.Pi)
		lr := measureLine(t, cal, part.Line{Points: along(rng, sc, scenemaker.PartLeaf, 4, 0.8/mmPx), Bend: true, Zoom: 1.5}, part.DefaultSettings())
		bends = append(bends, valueOf(lr, record.PartBend).Value-m.LeafBend*2/3*180/math.Pi)
		a, _ := sc.On(scenemaker.PartBulb, 0.5, -1)
		b, _ := sc.On(scenemaker.PartBulb, 0.5, 1)
		w := measureLine(t, cal, part.Line{Points: []geom.PX{a, b}, Width: true, Zoom: 1.5}, part.DefaultSettings())
		wq := valueOf(w, record.PartWidth)
		widths = append(widths, wq.Value-m.Bulb)
		for range 10 { // every point moved at random before it is drawn to the edges
			off := func(p geom.PX) geom.PX {
				a, d := 2*math.Pi*rng.Float64(), 1.5*math.Sqrt(rng.Float64())/mmPx
				return geom.PX{X: p.X + d*math.Cos(a), Y: p.Y + d*math.Sin(a)}
			}
			v := measureLine(t, cal, part.Line{Points: []geom.PX{off(a), off(b)}, Width: true, Zoom: 1.5}, part.DefaultSettings())
			moved = append(moved, valueOf(v, record.PartWidth).Value-wq.Value)
		}
		t.Logf("seed %d: spike %.1f (%+.2f %%) ± %.1f, found %.2f, width %.2f; bend %+.2f, leaf bend %+.2f; bulb %.1f %+.3f ± %.2f (found %.1f)", seed, m.Spike, 100*lengths[seed], q.U95,
			r.FoundShare, r.WidthMM, bends[2*seed], bends[2*seed+1], m.Bulb, widths[seed], wq.U95, w.FoundShare)
	}
	t.Logf("moved by up to 1.5 mm: width off by %.3f mm at most, 0.95 of them by %.3f", quantileOfAbs(moved, 1), quantileOfAbs(moved, 0.95))
	assert.Less(t, quantileOfAbs(lengths, 0.5), 0.01, "length of spikes, median")
	assert.Less(t, quantileOfAbs(lengths, 1), 0.01)
	for i, w := range widths {
		assert.Less(t, math.Abs(w), math.Max(0.15, 0.02*(18+2*float64(i))), "width of organs, mm")
	}
	assert.Less(t, quantileOfAbs(spikeWidths, 1), 0.25, "width of spikes between the edges found beside the line, mm")
	assert.Less(t, quantileOfAbs(bends, 1), 2.0, "bend, degrees")
	assert.Less(t, quantileOfAbs(moved, 0.95), 0.1, "width after points were moved, mm")
	for _, f := range found {
		assert.Greater(t, f, 0.9)
	}
}
