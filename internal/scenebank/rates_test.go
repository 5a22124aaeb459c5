package scenebank_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
	"phototrack/internal/scenebank"
)

// In photos drawn from the declared distributions of depth, slope, print, focal length, pose and light, 95 % intervals
// hold the truth as often as they say. Where the print rules (scale) the bank holds only one draw a plant: 200 of them
// leave 1.5 points (one standard error) to chance, and two of these are allowed.
func TestIntervalsHoldTheTruth(t *testing.T) {
	rows, _ := bank(t)
	for _, c := range []struct {
		name      string
		quantity  string
		keep      func(*scenebank.Row) bool
		low, high float64
	}{
		// The doubt about regions is as large as harder scenes than these ask for (docs/model-card.md).
		{"leaf area", "leaf_area", anyRow, 0.93, 0.97},
		{"scale", "scale", anyRow, 0.92, 0.98},
		{"tilt", "tilt", anyRow, 0.93, 0.99},
		{"camera distance", "camera_distance", anyRow, 0.93, 0.98},
		// Intervals of shares may be wide: where borders lie is put into each photo's.
		{"yellow share", "yellow_share", anyRow, 0.93, 1},
		{"purple share", "purple_share", anyRow, 0.93, 1},
		{"green share, no dead tissue", "green_share", alive, 0.93, 1},
		{"brown share", "brown_share", anyRow, 0.92, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			share, n := held(rows, c.quantity, c.keep)
			t.Logf("held %.1f %% of %d", 100*share, n)
			assert.GreaterOrEqual(t, share, c.low)
			assert.LessOrEqual(t, share, c.high)
		})
	}
}

// Plants that do not change, really photographed and measured again and again: a single comparison of the area is called
// a change in 3 to 6 %, of everything else in at most 6 %: that is the aim. The area misses it a little on both sides: 2.8 % with two
// sessions, 6.2 % with half a year of plants that all look alike to the network, 7.0 % of those without dead tissue. The limits say so;
// the bank, of 60 plants instead of 200, is itself uncertain by 2 points.
func TestUnchangingPlantsAreSeldomCalledChanged(t *testing.T) {
	rows, _ := bank(t)
	s := shelve(rows)
	for _, p := range plans {
		t.Run(p.name, func(t *testing.T) {
			all, n, listed := s.rates(p.plan, 10, anyRow)
			living, m, _ := s.rates(p.plan, 10, alive)
			for _, q := range scenebank.Quantities {
				t.Logf("%s: %.1f %% of %d called changed; without dead tissue %.1f %% of %d", q, 100*all[q], n[q], 100*living[q], m[q])
				limit := 0.06
				if q == "leaf_area" {
					limit = 0.075
				}
				assert.LessOrEqual(t, living[q], limit, "%s, no dead tissue", q)
				assert.LessOrEqual(t, all[q], 0.09, "%s, all plants", q)
			}
			assert.Positive(t, all["leaf_area"], "a rule that never speaks is broken too")
			assert.LessOrEqual(t, all["leaf_area"], 0.07)
			t.Logf("first screen: %.2f of %d plants a month", listed, len(s.plants))
			assert.LessOrEqual(t, listed, 1.0)
		})
	}
}

// Of what the first screen lists, at most a tenth is of plants that did not change, where one in ten did.
func TestFirstScreenFalseDiscoveries(t *testing.T) {
	rows, _ := bank(t)
	f := shelve(rows).screen(6, 40)
	t.Logf("listed %d, of them %d by chance; %d of %d changed plants found", f.listed, f.wrong, f.seen, f.changed)
	assert.LessOrEqual(t, float64(f.wrong), 0.10*float64(f.listed))
	assert.Greater(t, f.seen, f.changed/4, "a list that finds nothing is no use")
}

// A true change of the leaves, rendered and measured, is seen every other time at one smallest detectable change, nearly
// always at two.
func TestPower(t *testing.T) {
	rows, _ := bank(t)
	s := shelve(rows)
	seen, n := s.power("leaf_area", record.Rose, 6, 90)
	for k, low := range map[int]float64{1: 0.4, 2: 0.93, 3: 0.99} {
		t.Logf("leaf area, %d smallest detectable changes: seen %.0f of %.0f, %.2f", k, seen[k], n[k], seen[k]/n[k])
		assert.GreaterOrEqual(t, seen[k]/n[k], low)
	}
	assert.LessOrEqual(t, seen[1]/n[1], 0.6)
}
