package scenemaker_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
)

// study is a scene of known light, tilt and depth; everything else is as good as it can be: a true print, EXIF's focal length
// true, a plant in one plane.
type study struct {
	name      string
	kelvin    float64
	tilt      [2]float64 // degrees about the upright and the level axis
	depthMM   float64
	condition scenemaker.Condition
	ground    float64 // L* of the backdrop
	quality   int
}

var studies = []study{
	{"2900 K", 2900, [2]float64{}, 0, scenemaker.Healthy, 62, 92},
	{"3400 K, yellow tips", 3400, [2]float64{4, -3}, 0, scenemaker.Yellowed, 75, 92},
	{"4200 K, purple margins", 4200, [2]float64{-6, 5}, 0, scenemaker.Purpled, 70, 92},
	{"5000 K, dark ground", 5000, [2]float64{3, 3}, 0, scenemaker.Yellowed, 40, 92},
	{"5500 K, JPEG 80", 5500, [2]float64{0, -8}, 0, scenemaker.Purpled, 62, 80},
	{"6500 K, 15 degrees up", 6500, [2]float64{0, 15}, 0, scenemaker.Yellowed, 62, 92},
	{"7500 K", 7500, [2]float64{5, 0}, 0, scenemaker.Purpled, 62, 92},
	{"20 degrees from the left", 5000, [2]float64{20, 0}, 0, scenemaker.Healthy, 62, 92},
	{"25 degrees from the right", 5000, [2]float64{-25, 0}, 0, scenemaker.Yellowed, 62, 92},
	{"30 degrees from below", 5000, [2]float64{0, -30}, 0, scenemaker.Healthy, 62, 92},
	{"8 mm before the card", 6000, [2]float64{5, 5}, 8, scenemaker.Healthy, 62, 92},
	{"10 mm behind the card", 4000, [2]float64{-5, 5}, -10, scenemaker.Healthy, 62, 92},
}

func (s study) scene(seed uint64) *scenemaker.Scene {
	r := rand.New(rand.NewPCG(seed, 20))
	var p scenemaker.Plant
	for p = scenemaker.Grow(r, 20); p.Condition != s.condition; p = scenemaker.Grow(r, 20) {
	}
	p.SlopeXDeg, p.SlopeYDeg = 0, 0
	for i := range p.Leaves {
		p.Leaves[i].SlopeDeg, p.Leaves[i].RollDeg, p.Leaves[i].DepthMM = 0, 0, 0
	}
	h := scenemaker.NewHabit(r)
	h.Print, h.FocalRel, h.DepthMM = scenemaker.Print{Across: 1, Down: 1}, 1, 0
	h.Backdrop = scenemaker.Grey()
	h.Backdrop.Colour.L = s.ground
	set := scenemaker.SetUp(r, p, h, time.Date(2026, 5, 14, 9, 30, 0, 0, time.UTC))
	set.Stand.TurnDeg, set.Stand.LeanDeg, set.Stand.DepthMM = 0, 0, s.depthMM
	set.ViewDeg = s.tilt
	set.Light.LampKelvin, set.Light.AroundKelvin = s.kelvin, s.kelvin
	sc := scenemaker.Shoot(r, set)
	sc.Sensor.Quality = s.quality
	return sc
}

func within(t *testing.T, p *record.Photo, name string, truth, limit float64) {
	t.Helper()
	q, ok := p.Find(name)
	require.True(t, ok, name)
	assert.InDelta(t, truth, q.Value, limit, "%s, %s", name, q.Unit)
	assert.LessOrEqual(t, math.Abs(q.Value-truth), q.U95, "%s: interval %g +- %g", name, q.Value, q.U95)
}

// An independent check of calibration and leaf measuring: another renderer than that of the scenes beside the checkout, over
// light, tilt, depth and tissue. Leaves lie in one plane, so that depth alone makes the area look larger or smaller, by
// what the pinhole camera says.
func TestMeasuringAgainstExactTruth(t *testing.T) {
	for i, s := range studies {
		t.Run(s.name, func(t *testing.T) {
			sc := s.scene(uint64(i))
			shot, err := scenemaker.Render(sc)
			require.NoError(t, err)
			p := pipeline.Measure(shot.JPEG, pipeline.Job{Name: "study.jpg"}, nil)
			truth := shot.Truth
			require.NotEqual(t, record.Rejected, p.Status, "%v", p.Reasons)
			assert.Equal(t, 20, p.Plant)
			assert.Equal(t, "2026-05-14T09:30:00Z", p.Taken.String())
			within(t, &p, "scale", truth.ScalePxPerMM, 0.001*truth.ScalePxPerMM)
			within(t, &p, "tilt", truth.TiltDeg, 0.4)
			within(t, &p, "camera_distance", truth.DistanceMM, 0.02*truth.DistanceMM)
			// The plane of the leaves seen through the card's: nearer is larger.
			q, ok := p.Find("leaf_area")
			require.True(t, ok)
			seen := truth.AreaMM2 * nearer(sc, truth.MeanDepthMM)
			t.Logf("area %.0f of %.0f mm2, %+.2f %% of what must show", q.Value, truth.AreaMM2, 100*(q.Value/seen-1))
			assert.InEpsilon(t, seen, q.Value, 0.004, "the mask, apart from depth")
			assert.LessOrEqual(t, math.Abs(q.Value-truth.AreaMM2), q.U95, "interval of the area")
			for c := range scenemaker.Classes {
				within(t, &p, c.String()+"_share", truth.Share[c], 0.017)
			}
		})
	}
}

// nearer is how much larger an area before the card's plane looks on it.
func nearer(sc *scenemaker.Scene, depthMM float64) float64 {
	eye := sc.Camera.Centre()
	k := eye[2] / (eye[2] + depthMM)
	return k * k
}
