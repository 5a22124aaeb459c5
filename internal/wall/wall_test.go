package wall

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

// shared finds the folder of outside check values beside the repository; without it the test is skipped, on a build
// machine it fails.
func shared(t *testing.T, parts ...string) string {
	t.Helper()
	return reftest.Path(t, parts...)
}

type refCase struct {
	Name     string   `json:"name"`
	RBase    float64  `json:"r_base_mm"`
	DRDZ     float64  `json:"dr_dz"`
	Camera   Vec      `json:"camera_mm"`
	R        [3]Vec   `json:"R_pot_to_camera"`
	K        [3]Vec   `json:"K"`
	Rays     []refRay `json:"rays"`
	Segments []refSeg `json:"segments"`
	Curve    refCurve `json:"wall_curve"`
}
type refRay struct {
	Px        [2]float64  `json:"px"`
	Dir       Vec         `json:"ray_direction"`
	Hit       *Vec        `json:"hit"`
	Distance  float64     `json:"distance"`
	Radius    float64     `json:"radius"`
	Theta     float64     `json:"theta_rad"`
	Height    float64     `json:"height_mm"`
	Developed *[2]float64 `json:"developed_xy_mm"`
}
type refSeg struct {
	From, To int
	Geodesic float64 `json:"geodesic_mm"`
}
type refCurve struct {
	Length float64      `json:"length_mm"`
	Px     [][2]float64 `json:"px"`
	Theta  []float64    `json:"theta_rad"`
	Z      []float64    `json:"z_mm"`
}

const potHeight = 1000.0 // taller than any hit: the reference's walls have no rim

// pot puts the reference's frame (z up from the base, azimuth 0 towards -y) into a frustum with its rim on top.
func (c refCase) pot() Frustum {
	return Frustum{Rim: Vec{0, 0, potHeight}, Base: Vec{}, RRim: c.RBase + c.DRDZ*potHeight, RBase: c.RBase, Zero: Vec{0, -1, 0}}
}

func (c refCase) camera() Camera {
	var cam Camera
	for i := range 3 {
		for j := range 3 {
			cam.R[3*i+j] = c.R[i][j]
		}
		cam.T[i] = -c.R[i].Dot(c.Camera)
	}
	cam.Fx, cam.Fy, cam.Cx, cam.Cy = c.K[0][0], c.K[1][1], c.K[0][2], c.K[1][2]
	return cam
}

// Values: ../shared/reference/pot_wall.json (closed form at 40 digits).
func TestRaysMeetTheWallAsTheReferenceSays(t *testing.T) {
	raw, err := os.ReadFile(shared(t, "reference", "pot_wall.json"))
	require.NoError(t, err)
	var doc struct {
		Cases []refCase `json:"cases"`
	}
	require.NoError(t, json.Unmarshal(raw, &doc))
	require.NotEmpty(t, doc.Cases)
	for _, c := range doc.Cases {
		t.Run(c.Name, func(t *testing.T) {
			cam, sheet := c.camera(), c.pot().Sheet()
			centre := cam.Centre()
			assert.InDelta(t, 0, centre.Sub(c.Camera).Norm(), 1e-9)
			type place struct{ x, y float64 }
			dev := map[int]place{}
			for i, r := range c.Rays {
				dir := cam.Ray(r.Px[0], r.Px[1])
				p, dist, ok := sheet.Meet(centre, dir)
				if r.Hit == nil {
					assert.False(t, ok && p[2] < 500, "ray %d should miss", i)
					continue
				}
				require.True(t, ok, "ray %d", i)
				assert.InDelta(t, 0, p.Sub(*r.Hit).Norm(), 1e-7)
				assert.InDelta(t, r.Distance, dist, 1e-7)
				az, y, rad := sheet.Coords(p)
				assert.InDelta(t, r.Theta, az, 1e-9)
				assert.InDelta(t, r.Height, potHeight-y, 1e-7)
				assert.InDelta(t, r.Radius, rad, 1e-7)
				x, v := sheet.Developed(az, y)
				dev[i] = place{x, v}
				u, w, front := cam.Project(p)
				require.True(t, front)
				assert.InDelta(t, r.Px[0], u, 1e-6)
				assert.InDelta(t, r.Px[1], w, 1e-6)
			}
			for _, s := range c.Segments { // straight on the developed wall = shortest way on the wall
				a, b := dev[s.From], dev[s.To]
				assert.InDelta(t, s.Geodesic, math.Hypot(a.x-b.x, a.y-b.y), 1e-6)
			}
			var sum float64
			var last Vec
			for i, px := range c.Curve.Px {
				p, _, ok := sheet.Meet(centre, cam.Ray(px[0], px[1]))
				require.True(t, ok)
				az, y, _ := sheet.Coords(p)
				assert.InDelta(t, c.Curve.Theta[i], az, 1e-7)
				assert.InDelta(t, c.Curve.Z[i], potHeight-y, 1e-5)
				if i > 0 {
					sum += p.Sub(last).Norm()
				}
				last = p
			}
			assert.InEpsilon(t, c.Curve.Length, sum, 1e-3) // 60 chords of the curve
		})
	}
}

func TestSilhouetteTouchesTheWall(t *testing.T) {
	f := Frustum{Rim: Vec{-80, 0, 0}, Base: Vec{-78, 125, 0}, RRim: 60, RBase: 50}
	eye := Vec{40, 20, -560}
	f = f.Facing(eye)
	s := f.Sheet()
	for _, y := range []float64{0, 40, 125} {
		l, r, ok := s.Silhouette(eye, y)
		require.True(t, ok)
		assert.Less(t, l, -1.3)
		assert.Greater(t, r, 1.3)
		for _, az := range []float64{l, r} {
			// A hair towards the axis the ray hits, a hair outside it misses.
			_, _, in := s.Meet(eye, s.Point(az, y).Sub(eye).Add(f.axisDir(az).Scale(-0.02)))
			_, _, out := s.Meet(eye, s.Point(az, y).Sub(eye).Add(f.axisDir(az).Scale(0.02)))
			if y > 0 && y < 125 {
				assert.True(t, in)
			}
			assert.False(t, out)
		}
	}
}

// axisDir is the outward direction, square to the axis, at azimuth az.
func (f Frustum) axisDir(az float64) Vec {
	fr := f.frame()
	return fr.zero.Scale(math.Cos(az)).Add(fr.side.Scale(math.Sin(az)))
}
