package plate

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/codec"
	"phototrack/internal/colour"
	bgr "phototrack/internal/raster"
)

// greyRow draws eight grey patches of 32 px on white in a light of a known cast, with a sensor's noise.
func greyRow(rng *rand.Rand, cast [3]float64, x0, y0 float64) bgr.BGR {
	greys := []uint8{240, 210, 180, 150, 120, 95, 60, 34}
	img := bgr.NewBGR(400, 160)
	for y := range img.H {
		for x := range img.W {
			v := uint8(238)
			k := int(math.Floor((float64(x) - x0) / 32))
			if k >= 0 && k < len(greys) && float64(y) > y0 && float64(y) < y0+32 {
				v = greys[k]
			}
			for c := range 3 {
				e := 255*colour.Encode(colour.LinearOf8[v]*cast[c]) + rng.NormFloat64()
				img.Pix[3*(y*img.W+x)+2-c] = uint8(min(255, max(0, e+0.5)))
			}
		}
	}
	return img
}

// middleLab is the mean colour of a patch's middle half, the cast taken out.
func middleLab(at func(x, y int) colour.RGB, cast [3]float64, x0, y0 float64) colour.Lab {
	var s colour.RGB
	n := 0.0
	for y := int(y0 + 9); y < int(y0+24); y++ {
		for x := int(x0 + 9); x < int(x0+24); x++ {
			c := at(x, y)
			for k := range 3 {
				s[k] += c[k] / cast[k]
			}
			n++
		}
	}
	return colour.RGB{s[0] / n, s[1] / n, s[2] / n}.Lab()
}

// TestColourNoiseOfJPEGIsEvenedOut draws greys under perfectly known light, writes them as a camera does and reads them
// back: what differs between two such photos is JPEG's doing alone.
func TestColourNoiseOfJPEGIsEvenedOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var before, after [2][8]colour.Lab
	var sumBefore, sumAfter, overBefore, overAfter, n float64
	for trial := range 60 {
		cast := [3]float64{0.90 + 0.1*rng.Float64(), 0.97, 0.9 + 0.12*rng.Float64()}
		x0, y0 := 40+16*rng.Float64(), 50+16*rng.Float64()
		data, err := codec.WriteJPEG(greyRow(rng, cast, x0, y0), 90)
		require.NoError(t, err)
		img := bgr.NewBGR(400, 160)
		_, err = codec.JPEG(data, img)
		require.NoError(t, err)
		pix := quiet(img.Image(), 1)
		for k := range 8 {
			px := x0 + 32*float64(k)
			before[trial%2][k] = middleLab(func(x, y int) colour.RGB {
				i := 3 * (y*img.W + x)
				return colour.FromSRGB8(img.Pix[i+2], img.Pix[i+1], img.Pix[i])
			}, cast, px, y0)
			after[trial%2][k] = middleLab(func(x, y int) colour.RGB { return pix[y*img.W+x].linear() }, cast, px, y0)
		}
		if trial == 0 {
			continue
		}
		for k := range 8 {
			a, b := colour.DeltaE2000(before[0][k], before[1][k]), colour.DeltaE2000(after[0][k], after[1][k])
			sumBefore, sumAfter, n = sumBefore+a, sumAfter+b, n+1
			if a > 2 {
				overBefore++
			}
			if b > 2 {
				overAfter++
			}
		}
	}
	t.Logf("mean CIEDE2000 %.2f before, %.2f after; over 2: %.1f %%, %.1f %%", sumBefore/n, sumAfter/n, 100*overBefore/n, 100*overAfter/n)
	assert.Positive(t, overBefore, "the camera's JPEG alone sets greys apart")
	assert.Less(t, overAfter, 0.3*overBefore)
	assert.Less(t, sumAfter, 0.85*sumBefore)
}

// TestDrawingIsKept: brightness is never touched, and colours that differ by more than JPEG's noise are not mixed.
func TestDrawingIsKept(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	m := image.NewNRGBA(image.Rect(0, 0, 120, 90))
	for i := 0; i < len(m.Pix); i += 4 {
		r, g, b := uint8(90), uint8(120), uint8(60) // a leaf
		if (i/4)%120/10%2 == 1 {
			r, g, b = 102, 120, 56 // its paler stripe, 10 px wide
		}
		noise := rng.IntN(5)
		m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = r+uint8(noise), g+uint8(noise), b+uint8(noise), 255
	}
	same := func(v uint8) float64 { return colour.LinearOf8[v] }
	for i, p := range quiet(m, 1) {
		c, q := p.linear(), m.Pix[4*i:]
		assert.InDelta(t, luminanceOf(colour.RGB{same(q[0]), same(q[1]), same(q[2])}), luminanceOf(c), 0.004)
		assert.InDelta(t, float64(q[0])-float64(q[2]), 255*(colour.Encode(c[0])-colour.Encode(c[2])), 1.5, "red against blue")
	}
}

func luminanceOf(c colour.RGB) float64 {
	return luminance[0]*c[0] + luminance[1]*c[1] + luminance[2]*c[2]
}

func TestPatternKeepsTheMean(t *testing.T) {
	for _, level := range []float64{0.2, 33.4, 127.51, 254.7} {
		sum := 0.0
		for y := range 4 {
			for x := range 4 {
				sum += float64(encode8(colour.Linear(level/255), bayer[y][x]))
			}
		}
		assert.InDelta(t, level, sum/16, 0.1)
	}
}

func TestOddPicturesAreEvenedToo(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 50}, {50, 1}, {3, 2}} {
		m := image.NewNRGBA(image.Rect(0, 0, size[0], size[1]))
		for i := range m.Pix {
			m.Pix[i] = 255
		}
		out := evened(m, [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, 4, plane{0, 0.1, 0.1})
		assert.Len(t, out.Pix, len(m.Pix))
	}
}
