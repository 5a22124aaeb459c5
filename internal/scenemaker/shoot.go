package scenemaker

import (
	"math"
	"math/rand/v2"
	"time"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Habit is what one grower keeps from photo to photo: the card, the phone, the side to shoot from.
type Habit struct {
	Print       Print
	FocalRel    float64 // true focal length over the one that EXIF stands for
	F35         int
	TiltDeg     [2]float64 // direction of the view, from square on: about the upright and the level axis
	DepthMM     float64    // of the plant before the card's plane, the same in all photos
	Fill        float64    // share of the photo's width that plant and card fill
	Backdrop    Backdrop
	Mix         [3][3]float64
	Contrast    float64
	BalanceRest float64
}

// Sizes of what the program's budget declares: the half-widths of depth, and standard uncertainties of the print (a card
// that was not measured) and of the focal length (against EXIF).
const (
	DepthCommonMM = 8.0
	DepthShotMM   = 5.0
	PrintRelU     = 0.01
	FocalRelU     = 0.035
)

// Sizes of what changes in ordinary photographing, all standard deviations: how a plant is turned when it is put back, from
// where it is seen, how the card is held.
const (
	turnDeg     = 2.0 // about the upright axis
	leanDeg     = 1.0
	viewDeg     = 3.0 // of the session's view about the habit's, either axis
	handDeg     = 1.0 // of replicates about the session's view
	distanceRel = 0.05
	habitDeg    = 6.0 // of a grower's usual view from square on, either axis
	maxTiltDeg  = 33.0
)

// NewHabit draws a grower.
func NewHabit(r *rand.Rand) Habit {
	size, aspect := PrintRelU*r.NormFloat64(), PrintRelU/math.Sqrt2*r.NormFloat64()
	h := Habit{Print: Print{math.Exp(size + aspect), math.Exp(size - aspect)}, FocalRel: math.Exp(FocalRelU * r.NormFloat64()),
		F35: 26 + r.IntN(25), DepthMM: DepthCommonMM * uniform(r, -1, 1), Fill: uniform(r, 0.72, 0.86),
		TiltDeg: [2]float64{habitDeg * r.NormFloat64(), habitDeg * r.NormFloat64()}, Contrast: uniform(r, 0, 0.3), BalanceRest: uniform(r, 0, 0.4)}
	h.Backdrop = Backdrop{Colour: labOf(uniform(r, 38, 82), uniform(r, 0, 3), uniform(r, 0, 360)), Contrast: uniform(r, 0.005, 0.03)}
	h.Mix = Straight
	for i := range 3 {
		for j := range 3 {
			if j != i {
				d := 0.025 * r.NormFloat64()
				h.Mix[i][j] += d
				h.Mix[i][i] -= d
			}
		}
	}
	return h
}

// Setting is one day's set-up of card, plant and light; its replicates share it.
type Setting struct {
	Plant    Plant
	Habit    Habit
	Stand    Stand
	Tag      [2]float64
	ViewDeg  [2]float64
	Distance float64 // of the habit's
	RollDeg  float64
	Light    Light
	White    float64
	Day      time.Time
}

// SetUp draws a day.
func SetUp(r *rand.Rand, p Plant, h Habit, day time.Time) Setting {
	s := Setting{Plant: p, Habit: h, Day: day, RollDeg: 3 * r.NormFloat64(), White: uniform(r, 195, 236), Distance: math.Exp(distanceRel * r.NormFloat64())}
	s.Stand = Stand{X: -p.Reach - 18 + uniform(r, -6, 6), Y: 70 + uniform(r, -15, 15), DepthMM: h.DepthMM + DepthShotMM*uniform(r, -1, 1),
		MiddleX: p.MiddleX, MiddleY: p.MiddleY, TurnDeg: p.SlopeXDeg + turnDeg*r.NormFloat64(), LeanDeg: p.SlopeYDeg + leanDeg*r.NormFloat64()}
	s.Tag = [2]float64{s.Stand.X - 14 + uniform(r, -5, 5), s.Stand.Y + 22 + uniform(r, 0, 8)}
	for i := range s.ViewDeg {
		s.ViewDeg[i] = h.TiltDeg[i] + viewDeg*r.NormFloat64()
	}
	lamp := 1e6 / uniform(r, 1e6/7500, 1e6/2900) // even in reciprocal temperature, as differences are seen
	s.Light = Light{LampKelvin: lamp, AroundKelvin: 1e6 / (1e6/lamp + uniform(r, -25, 25)), LampShare: uniform(r, 0.3, 0.7),
		From:        geom.Vec3{uniform(r, -0.8, 0.8), uniform(r, -1, 0.2), -1},
		GradientPer: [2]float64{0.08 * r.NormFloat64(), 0.06 * r.NormFloat64()}, BalanceLeaves: h.BalanceRest}
	return s
}

// WidthPx and HeightPx are the size of a bench's photos: about 3 px per mm.
const (
	WidthPx  = 1600
	HeightPx = 1200
)

// Shoot draws one photo of the day.
func Shoot(r *rand.Rand, s Setting) *Scene {
	view := s.ViewDeg
	for i := range view {
		view[i] += handDeg * r.NormFloat64()
	}
	if t := math.Hypot(view[0], view[1]); t > maxTiltDeg {
		view[0], view[1] = view[0]*maxTiltDeg/t, view[1]*maxTiltDeg/t
	}
	sensor := Sensor{WhiteSRGB: s.White + uniform(r, -4, 4), BlurPx: uniform(r, 0.5, 0.95), Electrons: uniform(r, 2500, 9000), ReadNoise: 0.0015, Mix: s.Habit.Mix,
		Contrast: s.Habit.Contrast, Flare: uniform(r, 0, 0.006), Quality: 86 + r.IntN(9)}
	roll := s.RollDeg + handDeg*r.NormFloat64()
	distance := s.Distance * math.Exp(0.01*r.NormFloat64())
	sc := &Scene{Plant: s.Plant.Number, Leaves: s.Plant.Leaves, Stand: s.Stand, Print: s.Habit.Print, Tag: s.Tag, WidthPx: WidthPx, HeightPx: HeightPx,
		F35: s.Habit.F35, Light: s.Light, Sensor: sensor, Backdrop: s.Habit.Backdrop, Taken: s.Day, Seed: r.Uint64()}
	sc.Camera = aim(sc, s.Habit, view, roll, distance)
	return sc
}

// aim points the camera at the middle of plant and card from a distance at which they fill the photo as the grower likes.
func aim(sc *Scene, h Habit, viewDeg [2]float64, rollDeg, distance float64) geom.Camera {
	// EXIF's equivalent read half-way between CIPA DCG-001's diagonal and the width that many makers go by, as the
	// program does, times what this camera is off.
	perMM := math.Sqrt(float64(sc.WidthPx) / 36 * math.Hypot(float64(sc.WidthPx), float64(sc.HeightPx)) / 43.2666)
	c := geom.Camera{F: float64(sc.F35) * perMM * h.FocalRel, CX: float64(sc.WidthPx-1) / 2, CY: float64(sc.HeightPx-1) / 2}
	c.R = geom.Rodrigues(geom.Vec3{0, 0, rad(rollDeg)}).Mul(geom.Rodrigues(geom.Vec3{rad(viewDeg[1]), rad(viewDeg[0]), 0}))
	left, top, bottom := 0.0, 0.0, math.Max(card.HeightMM, sc.Tag[1]+card.TagHeightMM)
	for i := range sc.Leaves {
		pl := sc.Stand.planeOf(&sc.Leaves[i])
		for _, q := range sc.Leaves[i].outline() {
			at := pl.at(q.X, q.Y)
			left, top, bottom = math.Min(left, at[0]), math.Min(top, at[1]), math.Max(bottom, at[1])
		}
	}
	w := math.Max(card.WidthMM-left, (bottom-top)*float64(sc.WidthPx)/float64(sc.HeightPx))
	z := c.F * w / (h.Fill * float64(sc.WidthPx)) * distance
	mid := c.R.Vec(geom.Vec3{(card.WidthMM + left) / 2, (top + bottom) / 2, 0})
	c.T = geom.Vec3{-mid[0], -mid[1], z - mid[2]}
	return c
}

// Grey is a plain ground of middle lightness, for tests.
func Grey() Backdrop { return Backdrop{Colour: colour.Lab{L: 62}, Contrast: 0.015} }
