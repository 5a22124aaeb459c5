package plate

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A part's crops stand at one scale with their feet at one place, and the line is as long as its millimetres say.
func TestCropsOfAPart(t *testing.T) {
	frame := func(pxPerMM, lengthMM float64) Frame {
		m := image.NewNRGBA(image.Rect(0, 0, 800, 600))
		for i := range m.Pix {
			m.Pix[i] = 255
		}
		return Frame{Image: m, ToPx: [9]float64{pxPerMM, 0, 400, 0, pxPerMM, 400, 0, 0, 1},
			Lines: []Line{{Part: "spike 1", Points: []Point{{0, 0}, {0, -lengthMM}}}, {Part: "bulb 1", Points: []Point{{-20, 10}, {-5, 10}}}}}
	}
	crops, ok := PartCrops([]Frame{frame(3, 40), frame(4, 80), {}}, "spike 1", 200, 240)
	require.True(t, ok)
	require.Len(t, crops, 3)
	assert.Nil(t, crops[2].Image, "no picture, no crop")
	assert.Equal(t, crops[0].PxPerMM, crops[1].PxPerMM)
	inked := func(c Crop) (top, bottom int) {
		top = -1
		for y := range c.Image.Rect.Dy() {
			for x := range c.Image.Rect.Dx() {
				if p, is := color.NRGBAModel.Convert(c.Image.At(x, y)).(color.NRGBA); is && p == accentInk {
					if top < 0 {
						top = y
					}
					bottom = y
				}
			}
		}
		return top + c.At.Y, bottom + c.At.Y
	}
	top0, foot0 := inked(crops[0])
	top1, foot1 := inked(crops[1])
	assert.InDelta(t, foot0, foot1, 1)
	assert.InDelta(t, 40*crops[0].PxPerMM, float64(foot0-top0), 4)
	assert.InDelta(t, 80*crops[1].PxPerMM, float64(foot1-top1), 4)
	_, ok = PartCrops([]Frame{frame(3, 40)}, "leaf 9", 200, 240)
	assert.False(t, ok)
}

// A tag below the foot is left out of the crops, not cut: its black reaches into none of them.
func TestCropsOfAPartCutNoTag(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 800, 600))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	black := func(p color.NRGBA) bool { return p.R < 8 && p.G < 8 && p.B < 8 }
	for y := 424; y < 520; y++ { // from 8 to 40 mm below the foot
		for x := 370; x < 430; x++ {
			m.SetNRGBA(x, y, color.NRGBA{0, 0, 0, 255})
		}
	}
	f := Frame{Image: m, ToPx: [9]float64{3, 0, 400, 0, 3, 400, 0, 0, 1}, Lines: []Line{{Part: "spike 1", Points: []Point{{0, 0}, {0, -90}}}}}
	count := func() (n int) {
		crops, ok := PartCrops([]Frame{f}, "spike 1", 300, 400)
		require.True(t, ok)
		c := crops[0].Image
		for y := range c.Rect.Dy() {
			for x := range c.Rect.Dx() {
				if black(c.NRGBAAt(x, y)) {
					n++
				}
			}
		}
		return n
	}
	require.Positive(t, count(), "an unknown thing is shown as it comes")
	f.Whole = []Box{{-10, 8, 10, 40}}
	assert.Zero(t, count())
}
