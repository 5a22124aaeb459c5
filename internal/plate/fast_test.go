package plate

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/pixels"
)

// blotches is a picture of soft blotches with a sensor's noise, hard edges and clipped whites among them.
func blotches(rng *rand.Rand, w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for range 1 + w*h/400 {
		c := [3]int{rng.IntN(300), rng.IntN(300), rng.IntN(300)}
		x0, y0, side := rng.IntN(w), rng.IntN(h), 1+rng.IntN(40)
		for y := y0; y < min(h, y0+side); y++ {
			for x := x0; x < min(w, x0+side); x++ {
				for k := range 3 {
					m.Pix[m.PixOffset(x, y)+k] = uint8(min(255, max(0, c[k]+rng.IntN(5))))
				}
			}
		}
	}
	for i := 3; i < len(m.Pix); i += 4 {
		m.Pix[i] = 255
	}
	return m
}

// apart counts the values that differ, and gives the largest difference.
func apart(t *testing.T, a, b *image.NRGBA) (n int, worst int) {
	t.Helper()
	assert.Equal(t, a.Rect.Size(), b.Rect.Size())
	for y := range a.Rect.Dy() {
		for i := range 4 * a.Rect.Dx() {
			p, q := int(a.Pix[y*a.Stride+i]), int(b.Pix[y*b.Stride+i])
			if p != q {
				n++
				worst = max(worst, p-q, q-p)
			}
		}
	}
	return n, worst
}

// TestFastIsAsSlow compares what draws plates with its plain counterparts: equal up to the rounding of single values.
func TestFastIsAsSlow(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, size := range [][2]int{{1, 1}, {1, 60}, {60, 1}, {7, 5}, {8, 9}, {33, 47}, {250, 160}} {
		m := blotches(rng, size[0], size[1])
		all := float64(len(m.Pix))
		toPx := [9]float64{2.1, 0.03, 5, -0.02, 2.05, 8, 1e-4, 2e-5, 1}
		for _, k := range []float64{0.1, 0.3, 0.75, 1, 4} {
			for _, light := range []plane{{}, {0.2, 0.31, -0.12}} {
				n, worst := apart(t, evened(m, toPx, k, light), evenedSlowly(m, toPx, k, light))
				assert.LessOrEqual(t, worst, 1, "%v, k %g", size, k)
				assert.LessOrEqual(t, float64(n), 2+0.002*all, "%v, k %g", size, k)
			}
		}
		src, mid := source{m: m, toPx: toPx}, Point{float64(size[0]) / 4, float64(size[1]) / 4}
		n, worst := apart(t, src.rectify(90, 70, 1.7, mid), src.rectifySlowly(90, 70, 1.7, mid))
		assert.LessOrEqual(t, worst, 1, "%v", size)
		assert.LessOrEqual(t, n, 4*90*70/200, "%v", size)
		for _, k := range []int{1, 2, 3, 4} {
			big := blotches(rng, size[0]*k, size[1]*k)
			n, worst := apart(t, pixels.Reduce(big, size[0], size[1]), imaging.Resize(big, size[0], size[1], imaging.Lanczos))
			assert.LessOrEqual(t, worst, 2, "%v by %d", size, k) // a mean midway between levels, along rows and then along columns
			assert.LessOrEqual(t, float64(n), 0.02*all, "%v by %d", size, k)
		}
	}
	for _, to := range [][2]int{{250, 160}, {249, 120}, {83, 61}, {40, 7}, {1, 1}} {
		m := blotches(rng, 250, 160)
		n, worst := apart(t, pixels.Mean(m, to[0], to[1]), imaging.Resize(m, to[0], to[1], imaging.Box))
		assert.LessOrEqual(t, worst, 1, "%v", to)
		assert.LessOrEqual(t, n, 1+4*to[0]*to[1]/20, "%v: means midway between levels", to)
	}
	part := blotches(rng, 90, 80).SubImage(image.Rect(11, 7, 71, 66)).(*image.NRGBA)
	n, _ := apart(t, evened(part, [9]float64{}, 1, plane{}), evened(imaging.Clone(part), [9]float64{}, 1, plane{}))
	assert.Zero(t, n, "a part of a picture is treated as if it were one of its own")
}

// TestPictureIsCopiedIn: also one that hangs over the page's edge.
func TestPictureIsCopiedIn(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	m := blotches(rng, 30, 20)
	for _, at := range []image.Point{{5, 6}, {-7, -3}, {40, 30}, {100, 3}} {
		r := newRaster(50, 40, color.NRGBA{1, 2, 3, 255})
		want := imaging.Paste(r.m, m, at)
		r.picture(at.X, at.Y, m)
		assert.Equal(t, want.Pix, r.m.Pix, "%v", at)
	}
}

// TestPNGIsReadByAnother: Go's own decoder sees the picture that was written.
func TestPNGIsReadByAnother(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, size := range [][2]int{{1, 1}, {2, 3}, {17, 40}, {300, 200}} {
		m := blotches(rng, size[0], size[1])
		for y := size[1] / 2; y < size[1]*3/4; y++ { // rows that repeat
			copy(m.Pix[y*m.Stride:(y+1)*m.Stride], m.Pix[size[1]/2*m.Stride:])
		}
		var b bytes.Buffer
		require.NoError(t, encodePNG(&b, m, 300))
		var plain bytes.Buffer
		require.NoError(t, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&plain, m))
		assert.Less(t, b.Len(), plain.Len()*101/100+4000, "packed as well as by Go's own encoder, a profile apart")
		got, err := png.Decode(&b)
		require.NoError(t, err)
		n, _ := apart(t, imaging.Clone(got), m)
		assert.Zero(t, n, "%v", size)
	}
}

func BenchmarkPNG(b *testing.B) {
	m := blotches(rand.New(rand.NewPCG(1, 1)), 1200, 900)
	for b.Loop() {
		encodePNG(io.Discard, m, 96)
	}
}

func BenchmarkEvened(b *testing.B) {
	m := blotches(rand.New(rand.NewPCG(1, 1)), 1200, 700)
	toPx := [9]float64{2.1, 0.03, 5, -0.02, 2.05, 8, 1e-4, 2e-5, 1}
	for b.Loop() {
		evened(m, toPx, 0.75, plane{0.2, 0.3, 0.1})
	}
}

func BenchmarkPanel(b *testing.B) {
	m := blotches(rand.New(rand.NewPCG(1, 1)), 1200, 900)
	f := Frame{Image: m, ToPx: [9]float64{2.1, 0.03, 5, -0.02, 2.05, 8, 1e-4, 2e-5, 1}, photo: 0.75}
	for b.Loop() {
		panel(&f, 596, 352, 1.4, Point{250, 200})
	}
}

func BenchmarkEvenedSlowly(b *testing.B) {
	m := blotches(rand.New(rand.NewPCG(1, 1)), 1200, 700)
	toPx := [9]float64{2.1, 0.03, 5, -0.02, 2.05, 8, 1e-4, 2e-5, 1}
	for b.Loop() {
		evenedSlowly(m, toPx, 0.75, plane{0.2, 0.3, 0.1})
	}
}
