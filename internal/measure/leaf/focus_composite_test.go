package leaf

import (
	"image"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

// composite is a plant out of focus put behind the plant of a scene: the leaves of another scene, shifted, tinted,
// blurred by three passes of a box (nearly a Gaussian of spread sigmaPx), with the camera's noise put back on.
type composite struct {
	dx, dy  int
	sigmaPx float64
	tint    [3]float64 // blue, green, red, of linear light
	noise   float64    // standard deviation, camera values
	flip    bool
}

func drawComposite(r *rand.Rand) composite {
	c := composite{dx: r.IntN(701) - 350, dy: -r.IntN(350), sigmaPx: 3 + 9*r.Float64(), noise: 1 + r.Float64(), flip: r.IntN(2) == 0}
	v := math.Exp2(r.Float64()*1.2 - 0.9)
	c.tint = [3]float64{v * math.Exp2(0.6*r.Float64()-0.3), v, v * math.Exp2(0.8*r.Float64()-0.4)}
	return c
}

// isLeafCode says whether a code of a scene's mask is leaf.
func isLeafCode(v uint8) bool { return v >= 1 && v <= 4 }

func (c *composite) behind(r *rand.Rand, front raster.BGR, frontMask *image.Gray, other raster.BGR, otherMask *image.Gray) raster.BGR {
	w, h := front.W, front.H
	plane := make([][]float32, 4) // premultiplied linear colours, cover
	for i := range plane {
		plane[i] = make([]float32, w*h)
	}
	ahead := make([]float32, w*h)
	for y := range h {
		for x := range w {
			if frontMask.Pix[y*frontMask.Stride+x] != 0 {
				ahead[y*w+x] = 1
			}
			ox, oy := x-c.dx, y-c.dy
			if c.flip {
				ox = other.W - 1 - ox
			}
			if ox < 0 || oy < 0 || ox >= other.W || oy >= other.H || !isLeafCode(otherMask.Pix[oy*otherMask.Stride+ox]) {
				continue
			}
			for k := range 3 {
				plane[k][y*w+x] = float32(c.tint[k] * colour.LinearOf8[other.Pix[3*(oy*other.W+ox)+k]])
			}
			plane[3][y*w+x] = 1
		}
	}
	for i := range plane {
		blurBoxes(plane[i], w, h, c.sigmaPx)
	}
	blurBoxes(ahead, w, h, 0.8)
	out := raster.NewBGR(w, h)
	copy(out.Pix, front.Pix)
	for i, a := range plane[3] {
		if a < 0.002 || ahead[i] > 0.995 {
			continue
		}
		for k := range 3 {
			v := colour.LinearOf8[front.Pix[3*i+k]]
			under := float64(plane[k][i]) + (1-float64(a))*v
			under = colour.LinearOf8[noisy(r, colour.Encode8(under), c.noise*float64(a))]
			out.Pix[3*i+k] = colour.Encode8(float64(ahead[i])*v + (1-float64(ahead[i]))*under)
		}
	}
	return out
}

func noisy(r *rand.Rand, v uint8, sd float64) uint8 {
	return uint8(max(0, min(255, math.Round(float64(v)+sd*r.NormFloat64()))))
}

// blurBoxes blurs in place with three boxes along each axis, whose variances add up to sigma squared.
func blurBoxes(p []float32, w, h int, sigma float64) {
	// A box of half-width a with its end pixels counted by a share has the variance wanted.
	n := math.Sqrt(4*sigma*sigma + 1) // width of each of three boxes
	a := int((n - 1) / 2)
	f := float32((n - float64(2*a+1)) / 2)
	norm := 1 / float32(n)
	line := make([]float32, max(w, h))
	pass := func(off, step, n int) {
		for range 3 {
			for i := range n {
				line[i] = p[off+i*step]
			}
			at := func(i int) float32 { return line[max(0, min(n-1, i))] }
			var s float32
			for i := -a; i <= a; i++ {
				s += at(i)
			}
			for i := range n {
				p[off+i*step] = (s + f*(at(i-a-1)+at(i+a+1))) * norm
				s += at(i+a+1) - at(i-a)
			}
		}
	}
	for y := range h {
		pass(y*w, 1, w)
	}
	for x := range w {
		pass(x, w, h)
	}
}

// Plants out of focus of other places, sizes of blur and tints than any photo at hand has: what stands behind must not
// count, and no leaf in front may be lost. COMPOSITES asks for more of them than every run can afford, and
// COMPOSITES_SEED for others: of 36 the median is 0.6 % and the worst 2.6 %.
func TestCompositesOfPlantsBehind(t *testing.T) {
	n := 12
	if v, err := strconv.Atoi(os.Getenv("COMPOSITES")); err == nil {
		n = v
	}
	seed := uint64(7)
	if v, err := strconv.Atoi(os.Getenv("COMPOSITES_SEED")); err == nil {
		seed = uint64(v)
	}
	r := rand.New(rand.NewPCG(seed, 11))
	type ready struct {
		file string
		in   Input
		mask *image.Gray
		area float64 // as measured without anything behind
	}
	var all []ready
	for _, set := range []string{"single", "series"} {
		for i, s := range scenesOf(t, set) {
			if i%3 != 0 {
				continue
			}
			f, m := readScene(t, set, s)
			in := inputOf(t, f.Img, f.F35MM)
			res, _, err := Measure(in, DefaultSettings())
			require.NoError(t, err)
			all = append(all, ready{s.File, in, m, valueOf(t, res, "leaf_area").Value})
		}
	}
	var errs []float64
	for i := range n {
		a, b := &all[i%len(all)], &all[(i%len(all)+1+r.IntN(len(all)-1))%len(all)]
		c := drawComposite(r)
		in := a.in
		quality := 92 - 17*(i%2)
		in.Img = resaved(t, c.behind(r, a.in.Img, a.mask, b.in.Img, b.mask), quality)
		res, why, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		e := valueOf(t, res, "leaf_area").Value/a.area - 1
		errs = append(errs, math.Abs(e))
		t.Logf("%2d %s before %s: sigma %4.1f px, by %d, %d px, JPEG %d: area %+.2f %%",
			i, a.file, b.file, c.sigmaPx, c.dx, c.dy, quality, 100*e)
		if assert.Len(t, why, 1) {
			assert.Equal(t, "behind", why[0].Code)
		}
	}
	t.Logf("area: median %.2f %%, worst %.2f %%", 100*median(errs), 100*slices.Max(errs))
	assert.LessOrEqual(t, median(errs), 0.01)
	assert.LessOrEqual(t, slices.Max(errs), 0.03)
}

// A photo of plants behind, saved anew, halved, turned, brighter or darker: its area stays within 1.5 % of what it was (one
// of twelve, at JPEG 75, moves by 1.3 %, the others by up to 0.7 %), and within 3 % of the truth.
func TestBehindStability(t *testing.T) {
	for _, s := range scenesOf(t, "hard") {
		if !strings.Contains(s.File, "behind") {
			continue
		}
		f, _ := readScene(t, "hard", s)
		plain, _, err := Measure(inputOf(t, f.Img, f.F35MM), DefaultSettings())
		require.NoError(t, err)
		was := valueOf(t, plain, "leaf_area").Value
		for name, img := range map[string]raster.BGR{
			"JPEG 75":                 resaved(t, f.Img, 75),
			"JPEG 60":                 resaved(t, f.Img, 60),
			"half size":               halved(t, f.Img),
			"turned by 90 degrees":    turned90(f.Img),
			"a third of a stop up":    brightened(f.Img, math.Cbrt(2)),
			"a third of a stop lower": brightened(f.Img, 1/math.Cbrt(2)),
		} {
			res, _, err := Measure(inputOf(t, img, f.F35MM), DefaultSettings())
			require.NoError(t, err)
			a := valueOf(t, res, "leaf_area")
			t.Logf("%s, %s: area %+.2f %% (+-%.1f), %+.2f %% from plain", s.File, name, 100*(a.Value/s.Leaf.Area-1), 100*a.U95/a.Value, 100*(a.Value/was-1))
			assert.InEpsilon(t, was, a.Value, 0.015, "%s, %s", s.File, name)
			assert.InEpsilon(t, s.Leaf.Area, a.Value, 0.03, "%s, %s", s.File, name)
			assert.LessOrEqual(t, math.Abs(a.Value-s.Leaf.Area), a.U95, "%s, %s: the interval", s.File, name)
		}
	}
}

// softened blurs the leaves of a scene, and their surroundings a little way round, in linear light; the card stays sharp.
func softened(img raster.BGR, leaf *image.Gray, sigmaPx float64) raster.BGR {
	w, h := img.W, img.H
	var plane [3][]float32
	for c := range plane {
		plane[c] = make([]float32, w*h)
		for i := range plane[c] {
			plane[c][i] = float32(colour.LinearOf8[img.Pix[3*i+c]])
		}
		blurBoxes(plane[c], w, h, sigmaPx)
	}
	near := make([]float32, w*h)
	for i := range near {
		if isLeafCode(leaf.Pix[i/w*leaf.Stride+i%w]) {
			near[i] = 1
		}
	}
	blurBoxes(near, w, h, 2*sigmaPx)
	out := raster.NewBGR(w, h)
	copy(out.Pix, img.Pix)
	for i, v := range near {
		if v < 0.002 {
			continue
		}
		for c := range 3 {
			out.Pix[3*i+c] = colour.Encode8(float64(plane[c][i]))
		}
	}
	return out
}

// A plant that the camera did not quite focus on is the plant all the same, though the card is sharper: none of it is
// taken for a plant behind, its area stays, and the grower is told once it shows. A plant behind it, still more
// blurred, is left out.
func TestPlantSofterThanTheCard(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 6))
	scenes := scenesOf(t, "series")
	for _, file := range []string{"012_2026-03_L.jpg", "017_2026-05_L.jpg"} {
		i := slices.IndexFunc(scenes, func(s scene) bool { return s.File == file })
		require.GreaterOrEqual(t, i, 0)
		f, m := readScene(t, "series", scenes[i])
		in := inputOf(t, f.Img, f.F35MM)
		plain, _, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		was := valueOf(t, plain, "leaf_area").Value
		for _, sigma := range []float64{0.7, 1, 1.5, 2, 3} {
			in.Img = softened(f.Img, m, sigma)
			res, why, err := Measure(in, DefaultSettings())
			require.NoError(t, err)
			a := valueOf(t, res, "leaf_area")
			t.Logf("%s, %.1f px: area %+.2f %%, U %.1f %%, %v", file, sigma, 100*(a.Value/was-1), 100*a.U95/a.Value, why)
			assert.InEpsilon(t, was, a.Value, 0.01)
			if sigma >= 2 && assert.Len(t, why, 1) {
				assert.Equal(t, "soft_leaves", why[0].Code)
			}
		}
		back := composite{dx: 120, dy: -200, sigmaPx: 9, tint: [3]float64{0.7, 0.7, 0.7}, noise: 1}
		f2, m2 := readScene(t, "series", scenes[(i+7)%len(scenes)])
		in.Img = softened(back.behind(r, f.Img, m, f2.Img, m2), m, 1.2)
		res, why, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		a := valueOf(t, res, "leaf_area").Value
		t.Logf("%s, 1.2 px, another behind: area %+.2f %%, %v", file, 100*(a/was-1), why)
		assert.InEpsilon(t, was, a, 0.03)
		if assert.NotEmpty(t, why) {
			assert.Equal(t, "behind", why[0].Code)
		}
	}
}
