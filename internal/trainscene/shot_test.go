package trainscene

import (
	"bytes"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/reftest"
)

// A leaf of 100 x 50 mm that leans back by 50 degrees, 30 mm before the card's plane at its middle, half of it behind a board: what is told of it follows
// by hand.
func TestWhatShowsOfALeafIsSummedUp(t *testing.T) {
	const lean = 50 * math.Pi / 180
	down := vec{0, -50 * cos(lean), 50 * sin(lean)}
	mat := plain(lch(50, 30, 130), 0, 0, 1, 1)
	sheet := rectangle{vec{-50, 0, 30}.sub(down.mul(0.5)), vec{100}, down}.mesh(4, 4, mat, leaf)
	board := rectangle{vec{0, 60, 70}, vec{100}, vec{0, -120, 0}}.mesh(2, 2, mat, rest)
	s := scene{cam: lookAt(vec{0, 150, 600}, vec{}, 0.05)}
	s.cam.f, s.cam.w, s.cam.h, s.cam.cx, s.cam.cy = 900, 800, 600, 400, 300
	var f film
	f.room(s.cam.w * s.cam.h)
	plane := rectangle{vec{-74, 50, 0}, vec{card.WidthMM}, vec{0, -card.HeightMM}}
	seen := f.project(&s.cam, []*mesh{sheet})
	e := extentOf(&f, &s, seen, plane, true)
	assert.InEpsilon(t, 5000*math.Cos(lean), e.area, 0.005, "projected square onto the plane, not along the line of sight")
	assert.InDelta(t, 30, e.depth/e.area, 0.1)
	assert.InDelta(t, 50*math.Sin(lean)/math.Sqrt(12), math.Sqrt(e.square/e.area-30*30), 0.3)
	assert.InDelta(t, 130, math.Atan2(e.lab.B, e.lab.A)*180/math.Pi, 6)
	e = extentOf(&f, &s, f.project(&s.cam, []*mesh{sheet, board}), plane, false)
	assert.InEpsilon(t, 2500*math.Cos(lean), e.area, 0.02, "what is hidden does not count")
}

// The card of a Shot has right angles and stands in the plane of the leaves; the file is a photo of the size that is told; nothing is left to chance.
func TestAShotIsAsItSays(t *testing.T) {
	if reftest.RaceDetector {
		t.Skip("drawn by one goroutine: nothing to race")
	}
	var f Film
	s, ok := Shoot(9810001, false, &f)
	require.True(t, ok)
	head, err := jpeg.DecodeConfig(bytes.NewReader(s.JPEG))
	require.NoError(t, err)
	assert.Equal(t, [2]int{2400, 1800}, [2]int{head.Width, head.Height})
	assert.Equal(t, [2]int{2400, 1800}, [2]int{s.WidthPx, s.HeightPx})
	assert.LessOrEqual(t, math.Abs(s.DepthMM), 14.0)
	px := 0
	for _, c := range s.Class {
		if c == leaf {
			px++
		}
	}
	assert.Greater(t, px, 1000)
	again, _ := Shoot(9810001, false, &f)
	assert.Equal(t, s.JPEG, again.JPEG)
	_, ok = Shoot(9810011, false, &f)
	assert.False(t, ok, "a scene without a card")

	for seed := range uint64(6) {
		d := newDice(9810000 + seed)
		c := compose(d, d.kind(), photoSize(false), nil)
		if c.card == nil {
			continue
		}
		c.turnCard(d)
		k := c.sheets[0]
		assert.InDelta(t, 0, k.a.unit().dot(k.b.unit()), 1e-5)
		assert.InDelta(t, card.WidthMM, k.a.norm(), 1e-3)
		assert.InDelta(t, card.HeightMM, k.b.norm(), 1e-3)
		assert.Greater(t, k.normal().dot(c.cam.ahead.mul(-1)), float32(0.85), "square to the camera, nearly")
	}
}

// What pixels see of a sheet is the mean of what they cover: an edge moves nowhere.
func TestASheetIsSeenByItsMeans(t *testing.T) {
	s := newSheet(10, 4)
	s.fill(5, 0, 5, 4, rgb{})
	out := s.seenAt(2, 4)
	sum := func(s *sheet) (v float64) {
		for _, p := range s.pix {
			v += float64(p[1])
		}
		return v
	}
	assert.InEpsilon(t, sum(s), sum(out), 1e-3)
	mid := s.w/2 + s.w*(s.h/2)
	assert.InDelta(t, 0.44, (out.pix[mid-1][1]+out.pix[mid][1])/2, 1e-3)
	assert.InDelta(t, 0.88, out.pix[mid-3][1], 1e-5)
	assert.Less(t, out.pix[mid-2][1], float32(0.88))
}
