package leaf

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/calib"
	"phototrack/internal/card"
	"phototrack/internal/geom"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// simulated is one photo of a card and a leaf of known area: print, focal length, pose, corners, depth and slope are
// drawn from the distributions that the budget declares.
type simulated struct {
	cam      geom.Camera // the truth
	markers  []calib.Marker
	f35      float64
	settings calib.Settings
	stretch  [2]float64 // of the print, across and down
}

const simW, simH = 4000, 3000

func simulate(r *rand.Rand) simulated {
	var s simulated
	relU := 0.01 // a print that was not checked
	if r.IntN(2) == 0 {
		relU = 0.0015 / math.Sqrt(3) // a steel rule read to 0.15 mm on 100 mm
	}
	s.settings = calib.Settings{Print: calib.TruePrint(relU)}
	s.f35 = 27
	prior := calib.PriorFocal(s.f35, simW, simH)
	if r.IntN(4) == 0 {
		s.f35 = 0
		prior = calib.PriorFocal(0, simW, simH)
	}
	size, aspect := relU*r.NormFloat64(), relU/math.Sqrt2*r.NormFloat64()
	s.stretch = [2]float64{math.Exp(size + aspect), math.Exp(size - aspect)}
	tilt, around, roll := math.Abs(r.NormFloat64())*0.2, 2*math.Pi*r.Float64(), 0.2*r.NormFloat64()
	tilt = math.Min(tilt, 0.6)
	R := geom.Rodrigues(geom.Vec3{0, 0, roll}).Mul(geom.Rodrigues(geom.Vec3{tilt * math.Cos(around), tilt * math.Sin(around), 0}))
	s.cam = geom.Camera{F: prior.Px * math.Exp(prior.RelU*r.NormFloat64()), CX: (simW - 1) / 2.0, CY: (simH - 1) / 2.0, R: R}
	z := 450 + 450*r.Float64()
	mid := R.Vec(geom.Vec3{card.WidthMM / 2, card.HeightMM / 2, 0})
	s.cam.T = geom.Vec3{(r.Float64()-0.2)*0.3*z - mid[0], (r.Float64()-0.5)*0.25*z - mid[1], z - mid[2]}
	noise, bleed := 0.05+0.15*r.Float64(), 0.05*r.NormFloat64()
	for _, id := range card.MarkerIDs(card.SideLeaf) {
		c, _, _ := card.MarkerCornersMM(id)
		m := calib.Marker{ID: id, Refined: true, EdgeSpreadPx: 1.8}
		for k, out := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			p := s.cam.Px(geom.Vec3{(c[k][0] + bleed*out[0]) * s.stretch[0], (c[k][1] + bleed*out[1]) * s.stretch[1], 0})
			m.Corners[k] = geom.PX{X: p.X + noise*r.NormFloat64(), Y: p.Y + noise*r.NormFloat64()}
		}
		s.markers = append(s.markers, m)
	}
	return s
}

// area is the true projected area of a square leaf beside the card and what the plane's homography makes of it.
func (s simulated) area(r *rand.Rand, c *calib.Calibration, set Settings) (truth, measured float64, centre geom.MM) {
	const half = 25.0
	mid := geom.MM{X: -70 + 30*r.Float64(), Y: 50 + 60*(r.Float64()-0.5)}
	depth := set.DepthCommonMM*(2*r.Float64()-1) + set.DepthShotMM*(2*r.Float64()-1) // towards the camera
	slope := math.Tan(set.SlopeDeg * math.Pi / 180 * (2*r.Float64() - 1))
	eye := s.cam.Centre()
	dx, dy := mid.X-eye[0], mid.Y-eye[1]
	n := math.Hypot(dx, dy)
	dx, dy = dx/n, dy/n
	var px []geom.PX
	for k := range 4 {
		a := [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}[k]
		b := [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}[(k+1)%4]
		for i := range 10 {
			t := float64(i) / 10
			u, v := half*(a[0]+t*(b[0]-a[0])), half*(a[1]+t*(b[1]-a[1]))
			px = append(px, s.cam.Px(geom.Vec3{mid.X + u, mid.Y + v, -depth + slope*(u*dx+v*dy)}))
		}
	}
	var twice, mx, my float64
	for i := range px {
		p, q := c.ToPlane.MM(px[i]), c.ToPlane.MM(px[(i+1)%len(px)])
		twice += p.X*q.Y - q.X*p.Y
		mx, my = mx+p.X/float64(len(px)), my+p.Y/float64(len(px))
	}
	return 4 * half * half, math.Abs(twice) / 2, geom.MM{X: mx, Y: my}
}

// With print, focal length, depth, slope, pose and corner noise drawn from what the budget declares, its 95 % intervals
// hold the truth as often as they say (JCGM 101:2008: propagation of distributions).
func TestIntervalsOfScaleAndAreaHoldTheTruth(t *testing.T) {
	const n = 2000
	r := rand.New(rand.NewPCG(2026, 11))
	set := DefaultSettings()
	scaleIn, areaIn, fitIn := 0, 0, 0
	var zs, za float64
	for range n {
		s := simulate(r)
		c, _, ok := calib.FromMarkers(s.markers, s.f35, simW, simH, s.settings)
		require.True(t, ok)
		// True scale at the true middle of the card.
		h := s.cam.Plane(0)
		inv, err := h.Inverse()
		require.NoError(t, err)
		mid := geom.MM{X: card.WidthMM / 2 * s.stretch[0], Y: card.HeightMM / 2 * s.stretch[1]}
		truth := 1 / math.Sqrt(inv.AreaMM2(h.Px(mid)))
		q := uncert.Quantity(record.CardScale, "px_per_mm", c.ScalePxPerMM, uncert.Normal("scale fit", c.ScalePxPerMM*c.ScaleRelU),
			uncert.Common(uncert.Normal("print", c.ScalePxPerMM*c.PrintRelU)))
		if math.Abs(q.Value-truth) <= q.U95 {
			scaleIn++
		}
		zs += math.Pow((q.Value-truth)/(q.U95/1.96), 2)
		// Scale of the card's own millimetres: the fit's term alone.
		own := truth * math.Sqrt(s.stretch[0]*s.stretch[1])
		if math.Abs(c.ScalePxPerMM/own-1) <= 1.96*c.ScaleRelU {
			fitIn++
		}
		area, measured, centre := s.area(r, c, set)
		in := Input{DistanceMM: c.DistanceMM, Eye: c.Camera.Centre(), AreaRelU: c.AreaRelU(centre), PrintRelU: c.PrintRelU, EdgeSpreadPx: 1.8}
		a := uncert.Quantity(record.LeafArea, "mm2", measured, areaTerms(&in, &set, &tally{area: measured, centre: centre}, 1)...)
		if math.Abs(measured-area) <= a.U95 {
			areaIn++
		}
		za += math.Pow((measured-area)/(a.U95/1.96), 2)
	}
	share := func(k int) float64 { return 100 * float64(k) / n }
	t.Logf("intervals that hold the truth, of %d: scale %.1f %% (fit alone %.1f %%), area %.1f %%; rms of error over u: %.2f, %.2f",
		n, share(scaleIn), share(fitIn), share(areaIn), math.Sqrt(zs/n), math.Sqrt(za/n))
	assert.InDelta(t, 95, share(scaleIn), 2, "scale")
	assert.InDelta(t, 95, share(areaIn), 2, "area")
}
