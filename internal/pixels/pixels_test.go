package pixels_test

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"

	"phototrack/internal/pixels"
)

// noisy is an opaque picture of random colours that lies within a larger one, so that reading or writing beyond its rows
// meets what is not its own.
func noisy(rng *rand.Rand, w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w+5, h+4))
	for i := range m.Pix {
		m.Pix[i] = uint8(rng.UintN(256)) | uint8(255*(i%4/3))
	}
	return m.SubImage(image.Rect(3, 2, 3+w, 2+h)).(*image.NRGBA)
}

// asAll are the functions that make a picture of another, each at its sizes.
func asAll(m *image.NRGBA) map[string]*image.NRGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	alike := pixels.Alike{Steps: 4, Luma: 12 * pixels.Fine, Colour: 9 * pixels.Fine}
	tilted := [9]float64{0.9, 0.05, -2, -0.04, 1.1, -3, 1e-3, -2e-3, 1}
	return map[string]*image.NRGBA{
		"even":            pixels.Even(m, alike, nil),
		"even, most":      pixels.Even(m, pixels.Alike{Steps: pixels.MostSteps, Luma: 255 * pixels.Fine, Colour: 255 * pixels.Fine}, nil),
		"rectify":         pixels.Rectify(m, tilted, pixels.Grid{W: w + 6, H: h + 5, X0: -1, Y0: -2, Pitch: 0.8}, color.NRGBA{1, 2, 3, 255}),
		"rectify, beyond": pixels.Rectify(m, tilted, pixels.Grid{W: 7, H: 5, X0: 1e6, Y0: -1e6, Pitch: 1}, color.NRGBA{1, 2, 3, 255}),
		"reduce":          pixels.Reduce(m, (w+1)/2, (h+2)/3),
		"reduce, same":    pixels.Reduce(m, w, h),
		"mean":            pixels.Mean(m, (w+2)/3, (h+1)/2),
		"mean, one":       pixels.Mean(m, 1, 1),
		"mean, larger":    pixels.Mean(m, w+3, h+2),
	}
}

// Pictures of all small sizes: what is made of a part of a picture is what is made of a copy of that part alone. The address
// sanitizer (scripts/check.sh sanitize) sees in the same calls that nothing beyond the copy is touched.
func TestOnlyThePictureIsLookedAt(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, size := range [][2]int{{1, 1}, {1, 2}, {2, 1}, {3, 3}, {1, 40}, {40, 1}, {5, 7}, {8, 8}, {16, 9}, {17, 33}, {64, 31}} {
		part := noisy(rng, size[0], size[1])
		alone := asAll(imaging.Clone(part))
		for name, got := range asAll(part) {
			assert.Equal(t, alone[name].Pix, got.Pix, "%s of %v", name, size)
		}
	}
}

// A picture of one colour stays so, whatever its size (rounding may move a value by one).
func TestOneColourStays(t *testing.T) {
	for _, c := range []color.NRGBA{{0, 0, 0, 255}, {255, 255, 255, 255}, {17, 130, 201, 255}} {
		m := image.NewNRGBA(image.Rect(0, 0, 23, 19))
		draw.Draw(m, m.Rect, image.NewUniform(c), image.Point{}, draw.Src)
		for name, got := range asAll(m) {
			if name == "rectify" || name == "rectify, beyond" {
				continue // they show what lies outside the picture too
			}
			for i := 0; i < len(got.Pix); i += 4 {
				want := [3]uint8{c.R, c.G, c.B}
				for k := range want {
					assert.InDelta(t, want[k], got.Pix[i+k], 1, "%s of %v", name, c)
				}
			}
		}
	}
}

// Outside the source stands the colour that was given.
func TestOutsideIsTheGround(t *testing.T) {
	m := noisy(rand.New(rand.NewPCG(5, 6)), 9, 9)
	got := pixels.Rectify(m, [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, pixels.Grid{W: 3, H: 2, X0: 100, Y0: 100, Pitch: 1}, color.NRGBA{1, 2, 3, 255})
	for i := 0; i < len(got.Pix); i += 4 {
		assert.Equal(t, []uint8{1, 2, 3, 255}, got.Pix[i:i+4])
	}
}

// A picture of half the size by means of two by two.
func ExampleMean() {
	m := image.NewNRGBA(image.Rect(0, 0, 2, 2))
	for i, v := range []uint8{10, 20, 30, 40} {
		m.Set(i%2, i/2, color.NRGBA{v, v, v, 255})
	}
	fmt.Println(pixels.Mean(m, 1, 1).NRGBAAt(0, 0))
	// Output: {25 25 25 255}
}
