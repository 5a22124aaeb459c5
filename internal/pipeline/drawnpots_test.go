package pipeline

import (
	"bytes"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"phototrack/internal/geom"
	"phototrack/internal/scenemaker"
	"phototrack/internal/wallmaker"
)

// drawnPot is a photo to be made of a drawn pot with a drawn wall round it.
type drawnPot struct {
	wall   uint64  // its seed
	narrow float64 // radius at the base over that at the rim
	cut    float64 // share of the pot's height below the photo's lower edge
}

// sidePx is the side of a drawn wall.
const sidePx = 512

// photo gives the file, and the pot's sizes as plants.csv has them.
func (d drawnPot) photo(t *testing.T, number int) (data []byte, sizes [3]float64) {
	t.Helper()
	w := wallmaker.Draw(d.wall, sidePx, sidePx)
	sc := d.scene(number, &w)
	return withWall(t, sc, &w), [3]float64{2 * sc.Pot.RimR, 2 * sc.Pot.BaseR, sc.Pot.HeightMM}
}

// rootUnderMM is half of a common root's thickness: package wallmaker draws the surface of the roots' middles, so much inside the wall.
const rootUnderMM = 1.8

// scene is the pot beside card and tag; the camera looks up as far as the photo's edge cuts the pot.
func (d drawnPot) scene(number int, w *wallmaker.Sample) *scenemaker.Scene {
	r := rand.New(rand.NewPCG(3, 20))
	p := scenemaker.Grow(r, number)
	h := scenemaker.NewHabit(r)
	h.Print, h.FocalRel, h.DepthMM, h.TiltDeg = scenemaker.Print{Across: 1, Down: 1}, 1, 0, [2]float64{}
	h.Backdrop = scenemaker.Grey()
	set := scenemaker.SetUp(r, p, h, time.Date(2026, 3, 7, 9, 30, 0, 0, time.UTC))
	set.ViewDeg, set.RollDeg = [2]float64{}, 0
	set.Light.LampKelvin, set.Light.AroundKelvin = 6500, 6500
	sc := scenemaker.Shoot(r, set)
	radius := float64(w.R0) / wallmaker.PxPerMM
	sc.Leaves = nil
	sc.Pot = &scenemaker.Pot{X: -radius - 25, RimY: -20, RimR: radius + rootUnderMM, BaseR: d.narrow * (radius + rootUnderMM), HeightMM: float64(w.Base-w.Top) / wallmaker.PxPerMM}
	sc.Tag = [2]float64{155, 40}
	sc.Camera.T[0] += 30 // all of it in the photo
	sc.Camera.T[2] *= 1.25
	if d.cut > 0 {
		level := sc.Camera
		from, to := 0.0, 0.5
		for range 30 {
			a := (from + to) / 2
			up := geom.Rodrigues(geom.Vec3{-a, 0, 0})
			sc.Camera.R, sc.Camera.T = up.Mul(level.R), up.Vec(level.T)
			if sc.Camera.Px(geom.Vec3{sc.Pot.X, sc.Pot.RimY + (1-d.cut)*sc.Pot.HeightMM, -sc.Pot.BaseR}).Y < float64(sc.HeightPx) {
				from = a
			} else {
				to = a
			}
		}
	}
	return sc
}

// withWall is the photo of the scene with the drawn wall laid round its pot.
func withWall(t *testing.T, sc *scenemaker.Scene, w *wallmaker.Sample) []byte {
	t.Helper()
	shot, err := scenemaker.Render(sc)
	require.NoError(t, err)
	pic, err := imaging.Decode(bytes.NewReader(shot.JPEG))
	require.NoError(t, err)
	img := imaging.Clone(pic)
	pot, eye := sc.Pot, sc.Camera.Centre()
	towards := math.Atan2(eye[0]-pot.X, -eye[2])
	const finer = 3       // places to a pixel of the wall
	const farthest = 0.98 // share of the radius: nearly from side to side
	sum := make([][4]float64, sc.WidthPx*sc.HeightPx)
	for v := range finer * w.H {
		down := (float64(v)/finer - float64(w.Top)) / wallmaker.PxPerMM
		radius := pot.RimR + (pot.BaseR-pot.RimR)*down/pot.HeightMM - rootUnderMM
		for u := range finer * w.W {
			across := (float64(u)/finer - float64(w.Mid)) / float64(w.R0)
			if math.Abs(across) > farthest {
				continue
			}
			s, c := math.Sincos(towards + math.Asin(across))
			at := sc.Camera.Px(geom.Vec3{pot.X + radius*s, pot.RimY + down, -radius * c})
			x, y := int(at.X+0.5), int(at.Y+0.5)
			if x < 0 || y < 0 || x >= sc.WidthPx || y >= sc.HeightPx {
				continue
			}
			to := &sum[y*sc.WidthPx+x]
			for k, b := range w.RGB[3*(v/finer*w.W+u/finer):][:3] {
				to[k] += float64(b)
			}
			to[3]++
		}
	}
	for i, c := range sum {
		if c[3] > 0 {
			mean := func(k int) uint8 { return uint8(c[k]/c[3] + 0.5) }
			img.Set(i%sc.WidthPx, i/sc.WidthPx, color.NRGBA{mean(0), mean(1), mean(2), 255})
		}
	}
	return asJPEG(t, img)
}
