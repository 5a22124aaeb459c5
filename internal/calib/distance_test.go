package calib

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The camera's distance, with EXIF's 35 mm equivalent taken by the frame's width (as the scenes give it), by its
// diagonal (CIPA DCG-001; 43.27 mm), and missing. Missing, a near-frontal card tells little of the distance (only the
// product of distance and focal length shows); the interval must say so and hold.
func TestDistanceWithEachReadingOfTheFocalLength(t *testing.T) {
	type result struct{ errs, near []float64 }
	byCase := map[string]*result{"by width": {}, "by diagonal": {}, "missing": {}}
	inside := map[string]int{}
	n, tilted := 0, 0
	for _, set := range []string{"single", "series", "hard"} {
		files, _ := scenes(t, set)
		for _, s := range files {
			if s.Expect != "ok" && s.Expect != "hard" {
				continue
			}
			f := read(t, set, s.File)
			ms, err := FindMarkers(f.Img)
			require.NoError(t, err)
			w, h := float64(f.Img.W), float64(f.Img.H)
			long := math.Max(w, h)
			n++
			if s.Card.TiltDeg > 15 {
				tilted++
			}
			for name, f35 := range map[string]float64{
				"by width":    s.Camera.FX * 36 / long,
				"by diagonal": s.Camera.FX * 43.2666 / math.Hypot(w, h),
				"missing":     0,
			} {
				c, _, ok := FromMarkers(ms, f35, f.Img.W, f.Img.H, Settings{Print: TruePrint(0.001)})
				require.True(t, ok)
				e := c.DistanceMM/s.Card.Distance - 1
				r := byCase[name]
				r.errs = append(r.errs, math.Abs(e))
				if s.Card.TiltDeg > 15 {
					r.near = append(r.near, math.Abs(e))
				}
				if math.Abs(e)*s.Card.Distance <= 1.96*c.DistanceU {
					inside[name]++
				}
				if name != "missing" {
					assert.Less(t, math.Abs(e), 0.05, "%s, 35 mm equivalent %s", s.File, name)
				}
			}
		}
	}
	for name, r := range byCase {
		worst, worstTilted := 0.0, 0.0
		for _, e := range r.errs {
			worst = math.Max(worst, e)
		}
		for _, e := range r.near {
			worstTilted = math.Max(worstTilted, e)
		}
		t.Logf("%-11s median %.1f %%, worst %.1f %%; tilted by over 15 degrees (%d of %d): median %.1f %%, worst %.1f %%; intervals hold %d of %d", name,
			100*median(r.errs), 100*worst, tilted, n, 100*median(r.near), 100*worstTilted, inside[name], n)
		assert.GreaterOrEqual(t, float64(inside[name]), 0.9*float64(n), name)
	}
}
