package pipeline_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// leafCodes are the codes of the scenes' masks for leaf of any colour.
var leafCodes = map[uint8]bool{1: true, 2: true, 3: true, 4: true}

// foliage are colours of leaves as sRGB: nearly black, purple, red, silver, cream, white, yellow, lime, brown, tan, green, blue-green (common practice).
var foliage = []color.NRGBA{{38, 34, 40, 255}, {88, 42, 80, 255}, {140, 50, 60, 255}, {165, 178, 165, 255}, {236, 230, 196, 255}, {242, 242, 234, 255},
	{205, 190, 70, 255}, {160, 185, 75, 255}, {128, 92, 58, 255}, {178, 148, 105, 255}, {75, 110, 55, 255}, {95, 130, 125, 255}}

// linear is a colour as linear light.
func linear(c color.NRGBA) colour.RGB { return colour.FromSRGB8(c.R, c.G, c.B) }

// depth is, for each pixel, how far it lies from the nearest pixel that is no leaf, counted in steps along rows and columns.
func (s *scene) depth() []int {
	w, h := s.mask.Rect.Dx(), s.mask.Rect.Dy()
	d := make([]int, w*h)
	near := func(i int, on bool, other int) {
		if on && d[other]+1 < d[i] {
			d[i] = d[other] + 1
		}
	}
	for i := range d {
		if leafCodes[s.mask.Pix[i/w*s.mask.Stride+i%w]] {
			d[i] = w + h
			near(i, i%w > 0, max(0, i-1))
			near(i, i >= w, max(0, i-w))
		}
	}
	for i := len(d) - 1; i >= 0; i-- {
		near(i, i%w < w-1, min(len(d)-1, i+1))
		near(i, i < len(d)-w, min(len(d)-1, i+w))
	}
	return d
}

// pattern says how far each pixel of the plant has the other colour, 0 to 1: all over, along the margins, in patches, or at the tips.
func (s *scene) pattern(r *rand.Rand) func(x, y int) float64 {
	w, h := s.mask.Rect.Dx(), s.mask.Rect.Dy()
	ramp := func(v float64) float64 { return min(1, max(0, v+0.5)) }
	switch r.IntN(4) {
	case 0:
		return func(int, int) float64 { return 1 }
	case 1:
		d, wide := s.depth(), (0.003+0.0095*r.Float64())*float64(max(w, h))
		return func(x, y int) float64 { return ramp((wide - float64(d[y*w+x])) / 3) }
	case 2:
		n := 5 + r.IntN(35)
		small := image.NewGray(image.Rect(0, 0, n, n))
		for i := range small.Pix {
			small.Pix[i] = uint8(r.IntN(256))
		}
		noise, least := imaging.Resize(small, w, h, imaging.CatmullRom), 0.4+0.2*r.Float64()
		return func(x, y int) float64 { return ramp((float64(noise.NRGBAAt(x, y).R)/255 - least) * 20) }
	}
	box := s.box(leafCodes)
	cx, cy := float64(box.Min.X+box.Max.X)/2, float64(box.Min.Y+box.Max.Y)/2
	far := (0.3 + 0.15*r.Float64()) * float64(max(box.Dx(), box.Dy()))
	return func(x, y int) float64 { return ramp((math.Hypot(float64(x)-cx, float64(y)-cy) - far) / 20) }
}

// recoloured is the scene's photo with leaves of other colours; light, shade and everything else stay.
func (s *scene) recoloured(t *testing.T, r *rand.Rand) []byte {
	t.Helper()
	pic := imaging.Clone(s.pic)
	mean, n := 0.0, 0.0
	each := func(do func(x, y int, light float64)) {
		for y := range pic.Rect.Dy() {
			for x := range pic.Rect.Dx() {
				if leafCodes[s.mask.GrayAt(x, y).Y] {
					c := linear(pic.NRGBAAt(x, y))
					do(x, y, (c[0]+c[1]+c[2])/3)
				}
			}
		}
	}
	each(func(_, _ int, light float64) { mean += light; n++ })
	mean /= n
	const leafLight = 0.18 // about what a leaf gives back: brighter ones stand in more light
	shine := min(1.3, mean/leafLight)
	base, other, amount := linear(foliage[r.IntN(len(foliage))]), linear(foliage[r.IntN(len(foliage))]), s.pattern(r)
	whole := r.IntN(2) == 0 // the rest of the leaves, too, is another colour
	bend := 0.7 + 0.4*r.Float64()
	each(func(x, y int, light float64) {
		a, lit := amount(x, y), shine*math.Pow(min(3.5, light/mean), bend)
		c := linear(pic.NRGBAAt(x, y))
		var out [3]uint8
		for k := range c {
			v := c[k]
			if whole {
				v = base[k] * lit
			}
			v += a * (min(1, other[k]*lit) - v)
			out[k] = colour.Encode8(v)
		}
		pic.SetNRGBA(x, y, color.NRGBA{R: out[0], G: out[1], B: out[2], A: 255})
	})
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, pic, &jpeg.Options{Quality: 93}))
	return withExifOf(t, b.Bytes(), s.data)
}

// The scenes' plants with leaves of any colour, all over, along the margins, in patches, at the tips: what grows variegated, dark, downy or withers. The
// truth stays. Some are as pale as what is behind them.
func TestPlantsOfOtherColours(t *testing.T) {
	reftest.Slow(t)
	var m pipeline.Measurer
	defer m.Close()
	c := tally{what: record.LeafArea, most: 0.04}
	r := rand.New(rand.NewPCG(20261130, 2))
	for _, set := range []string{"single", "hard", "wild-leaves", "series"} {
		bench, files := sceneSet(t, set)
		for i := range files {
			f := &files[i]
			if f.Leaf == nil || !strings.Contains(f.File, "L") || set == "series" && !strings.Contains(f.File, "_2026-05_L") {
				continue
			}
			s := readScene(t, set, bench, f)
			for range 2 {
				p := m.Measure(s.recoloured(t, r), pipeline.Job{Name: f.File}, s.bench)
				c.add(t, &p, f.Leaf.Area)
			}
		}
	}
	c.log(t)
	assert.Equal(t, c.photos, c.counted())
	// What these networks reach, so that it does not get worse unnoticed; intervals and flags are held to what the scenes themselves are.
	assert.LessOrEqual(t, c.median(), 0.026)
	assert.LessOrEqual(t, c.mean(), 0.068)
	assert.GreaterOrEqual(t, c.holding(), 0.92)
	assert.Zero(t, c.wrong, "accepted without a flag though wrong")
}
