package pipeline

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// slowStroke works out how much of every pixel of the picture the line covers.
func slowStroke(img raster.BGR, x0, y0, x1, y1, width float64, ink [3]uint8) {
	dx, dy := x1-x0, y1-y0
	for y := range img.H {
		for x := range img.W {
			t := 0.0
			if dx != 0 || dy != 0 {
				t = math.Min(1, math.Max(0, ((float64(x)-x0)*dx+(float64(y)-y0)*dy)/(dx*dx+dy*dy)))
			}
			a := math.Min(1, math.Max(0, width/2+0.5-math.Hypot(float64(x)-x0-t*dx, float64(y)-y0-t*dy)))
			p := img.Pix[3*(y*img.W+x):]
			for c := range 3 {
				p[c] = uint8(float64(p[c])*(1-a) + float64(ink[c])*a + 0.5)
			}
		}
	}
}

func TestStrokeAgainstEveryPixel(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	want := randomPicture(80, 60, 3)
	got := raster.BGR{W: want.W, H: want.H, Pix: append([]uint8(nil), want.Pix...)}
	for i := range 400 {
		p := func(n float64) float64 { return rng.Float64()*(n+20) - 10 }
		x0, y0, x1, y1, width := p(80), p(60), p(80), p(60), 0.5+4*rng.Float64()
		if i%3 == 0 { // on whole and half pixels, where distances are exactly those of the line's edge
			x0, y0, x1, y1, width = math.Round(x0), math.Round(2*y0)/2, math.Round(x1), math.Round(2*y0)/2, math.Round(width)
		}
		if i%10 == 0 {
			x1, y1 = x0, y0
		}
		ink := [3]uint8{uint8(rng.Uint32()), uint8(rng.Uint32()), uint8(rng.Uint32())}
		slowStroke(want, x0, y0, x1, y1, width, ink)
		stroke{x0, y0, x1, y1, width}.draw(got, ink)
		require.Equal(t, want.Pix, got.Pix, "line %d", i)
	}
}

func TestDashesCoverEveryOtherStretch(t *testing.T) {
	line := []record.Point{{X: 0, Y: 0}, {X: 25, Y: 0}, {X: 50, Y: 0}}
	got := dashes(line, 10)
	require.Len(t, got, 3)
	for i, d := range got {
		assert.InDelta(t, float64(20*i), d[0].X, 1e-9)
		assert.InDelta(t, float64(20*i+10), d[len(d)-1].X, 1e-9)
	}
}
