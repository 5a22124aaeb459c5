package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

type refPose struct {
	K      [][]float64 `json:"K"`
	R      [][]float64 `json:"R_card_to_camera"`
	TMM    []float64   `json:"t_mm"`
	Exact  [][]float64 `json:"px_exact"`
	Noisy  [][]float64 `json:"px_noisy_sigma_0.3"`
	H      [][]float64 `json:"H_mm_to_px_exact"`
	HLS    [][]float64 `json:"H_least_squares_from_noisy"`
	Points []struct {
		MM      []float64 `json:"mm"`
		PX      []float64 `json:"px"`
		MM2PerP float64   `json:"mm2_per_px2"`
	} `json:"points"`
}

func pts(px [][]float64) (out []PX) {
	for _, p := range px {
		out = append(out, PX{p[0], p[1]})
	}
	return
}

func flat(m [][]float64) (h Homography) {
	for i := range 9 {
		h[i] = m[i/3][i%3]
	}
	return
}

// Ten card poses computed by closed form, with the least-squares homography from noisy corners found by another
// library (reference/homography.json).
func TestHomographyAgainstReference(t *testing.T) {
	var doc struct {
		CardMM [][]float64 `json:"card_mm"`
		Cases  []refPose   `json:"cases"`
	}
	reftest.JSON(t, &doc, "reference", "homography.json")
	require.NotEmpty(t, doc.Cases)
	var mm []MM
	for _, p := range doc.CardMM {
		mm = append(mm, MM{p[0], p[1]})
	}
	for i, c := range doc.Cases {
		h, err := FitHomography(mm, pts(c.Exact), nil)
		require.NoError(t, err)
		noisy, err := FitHomography(mm, pts(c.Noisy), nil)
		require.NoError(t, err)
		ls, exact := flat(c.HLS), flat(c.H)
		for _, p := range append(mm, MM{74, 50}, MM{-60, 120}) {
			a, b := exact.Px(p), h.Px(p)
			assert.InDelta(t, 0, math.Hypot(a.X-b.X, a.Y-b.Y), 1e-6, "case %d", i)
			a, b = ls.Px(p), noisy.Px(p)
			assert.InDelta(t, 0, math.Hypot(a.X-b.X, a.Y-b.Y), 1e-3, "case %d, noisy", i)
		}
		g, err := h.Inverse()
		require.NoError(t, err)
		for _, q := range c.Points {
			assert.InEpsilon(t, q.MM2PerP, g.AreaMM2(PX{q.PX[0], q.PX[1]}), 1e-7)
		}
	}
}

// The same poses against the true pose (reference/pnp.json: cv2.solvePnP finds it to 2e-7 mm on exact corners).
func TestPoseAgainstReference(t *testing.T) {
	var hom struct {
		CardMM [][]float64 `json:"card_mm"`
		Cases  []refPose   `json:"cases"`
	}
	reftest.JSON(t, &hom, "reference", "homography.json")
	var pnp struct {
		Cases []struct {
			R []float64 `json:"rvec_true"`
			T []float64 `json:"tvec_true_mm"`
		} `json:"cases"`
	}
	reftest.JSON(t, &pnp, "reference", "pnp.json")
	require.Len(t, pnp.Cases, len(hom.Cases))
	var mm []MM
	for _, p := range hom.CardMM {
		mm = append(mm, MM{p[0], p[1]})
	}
	for i, c := range hom.Cases {
		h, err := FitHomography(mm, pts(c.Exact), nil)
		require.NoError(t, err)
		cam, err := PoseFromHomography(h, c.K[0][0], c.K[0][2], c.K[1][2])
		require.NoError(t, err)
		cam, rms := refinePose(cam, mm, pts(c.Exact))
		assert.Less(t, rms, 1e-4)
		want := Rodrigues(Vec3{pnp.Cases[i].R[0], pnp.Cases[i].R[1], pnp.Cases[i].R[2]})
		for k := range 9 {
			assert.InDelta(t, want[k], cam.R[k], 1e-6, "case %d R[%d]", i, k)
		}
		for k := range 3 {
			assert.InDelta(t, pnp.Cases[i].T[k], cam.T[k], 1e-3, "case %d t[%d]", i, k)
		}
		back := cam.Plane(0)
		for _, p := range mm {
			a, b := back.Px(p), h.Px(p)
			assert.InDelta(t, 0, math.Hypot(a.X-b.X, a.Y-b.Y), 1e-3)
		}
	}
}

func TestSolveSymmetricRefusesSingular(t *testing.T) {
	_, ok := SolveSymmetric([][]float64{{1, 1}, {1, 1}}, []float64{1, 1})
	assert.False(t, ok)
	x, ok := SolveSymmetric([][]float64{{4, 1}, {1, 3}}, []float64{1, 2})
	require.True(t, ok)
	assert.InDelta(t, 1.0/11, x[0], 1e-12)
	assert.InDelta(t, 7.0/11, x[1], 1e-12)
}

func TestProjectIsTheHomographyAndStopsAtInfinity(t *testing.T) {
	h := Mat3{2, 0.1, 30, -0.2, 1.8, 40, 1e-3, 2e-3, 1}
	want := Homography(h).Px(MM{X: 12, Y: 34})
	u, v, ok := h.Project(12, 34)
	require.True(t, ok)
	assert.InDelta(t, want.X, u, 1e-12)
	assert.InDelta(t, want.Y, v, 1e-12)
	_, _, ok = h.Project(-1000, 0) // on the line that is mapped to infinity
	assert.False(t, ok)
}

// refinePose minimises the distances in px of points of the card's plane by Levenberg-Marquardt with the focal length
// held. It returns the camera and the rms distance in px.
func refinePose(c Camera, mm []MM, px []PX) (Camera, float64) {
	fit := LM(make([]float64, 6), 2*len(mm), func(p, r []float64) {
		q := c.Turned(Vec3{p[0], p[1], p[2]}, Vec3{p[3], p[4], p[5]})
		for i := range mm {
			u := q.Px(Vec3{mm[i].X, mm[i].Y, 0})
			r[2*i], r[2*i+1] = u.X-px[i].X, u.Y-px[i].Y
		}
	}, 50)
	return c.Turned(Vec3{fit.P[0], fit.P[1], fit.P[2]}, Vec3{fit.P[3], fit.P[4], fit.P[5]}), math.Sqrt(fit.SS / float64(len(mm)))
}
