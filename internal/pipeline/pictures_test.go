package pipeline

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/calib"
	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

func randomPicture(w, h int, seed uint64) raster.BGR {
	img := raster.NewBGR(w, h)
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range img.Pix {
		img.Pix[i] = uint8(rng.Uint32())
	}
	return img
}

// The table agrees with the correction itself: equal on its grid, and between to less than what an eye can tell.
func TestCorrectColoursByTable(t *testing.T) {
	f := calib.ColourFit{Root: true}
	for c := range 3 {
		for v := range 256 {
			f.Tone[c][v] = colour.LinearOf8[v] * (0.8 + 0.1*float64(c))
		}
		for k := range 3 {
			f.M[c][k] = -0.1
		}
		f.M[c][c], f.M[c][3+c] = 1.3, 0.05
	}
	exact := func(p []uint8) (out [3]float64) {
		v := f.Linear(p[0], p[1], p[2])
		return [3]float64{255 * colour.Encode(v[2]), 255 * colour.Encode(v[1]), 255 * colour.Encode(v[0])}
	}
	img := randomPicture(300, 300, 9)
	for i := 0; i < 300; i += 3 { // the first pixels lie on the grid
		for k := range 3 {
			img.Pix[i+k] &^= 7
		}
	}
	got := raster.BGR{W: img.W, H: img.H, Pix: append([]uint8(nil), img.Pix...)}
	correctionTable(&f).correct(got)
	var worst, sum float64
	n := 0
	for i := 0; i < len(img.Pix); i += 3 {
		want := exact(img.Pix[i : i+3])
		for k := range 3 {
			d := math.Abs(want[k] - float64(got.Pix[i+k]))
			if i < 300 {
				assert.LessOrEqual(t, d, 0.6, "on the grid")
			}
			if img.Pix[i] > 32 && img.Pix[i+1] > 32 && img.Pix[i+2] > 32 {
				worst = math.Max(worst, d)
			}
			sum += d * d
			n++
		}
	}
	rms := math.Sqrt(sum / float64(n))
	t.Logf("rms %.2f, worst off the dark end %.1f of 255", rms, worst)
	assert.Less(t, rms, 1.5)
}
