package codec

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

func samples(t *testing.T) map[string]func(raster.BGR) error {
	t.Helper()
	var jpg bytes.Buffer
	require.NoError(t, jpeg.Encode(&jpg, image.NewGray(image.Rect(0, 0, 96, 64)), nil))
	read := func(name string) []byte {
		data, err := os.ReadFile(filepath.Join("..", "photo", "testdata", name))
		require.NoError(t, err)
		return data
	}
	webp, clear, heic := read("lossy.webp"), read("lossless_alpha.webp"), read("sample.heic")
	return map[string]func(raster.BGR) error{
		"JPEG":             func(dst raster.BGR) error { _, err := JPEG(jpg.Bytes(), dst); return err },
		"WebP":             func(dst raster.BGR) error { return WebP(webp, dst, false) },
		"transparent WebP": func(dst raster.BGR) error { return WebP(clear, dst, true) },
		"HEIC":             func(dst raster.BGR) error { return HEIF(heic, dst) },
	}
}

// TestRoomMustFit: C code writes into the picture that is handed over, so a size that is not the file's must never get
// that far.
func TestRoomMustFit(t *testing.T) {
	for name, decode := range samples(t) {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, decode(raster.NewBGR(96, 64)))
			for what, dst := range map[string]raster.BGR{
				"nothing":      {},
				"no pixels":    {W: 96, H: 64},
				"a byte short": {W: 96, H: 64, Pix: make([]byte, 3*96*64-1)},
				"smaller":      raster.NewBGR(48, 32),
				"narrower":     raster.NewBGR(64, 96),
				"larger":       raster.NewBGR(200, 100),
				"one pixel":    raster.NewBGR(1, 1),
			} {
				assert.ErrorIs(t, decode(dst), ErrDecode, what)
			}
		})
	}
}

func TestRubbishIsAnError(t *testing.T) {
	for _, data := range [][]byte{nil, {0}, []byte("RIFF"), {0xFF, 0xD8, 0xFF}, bytes.Repeat([]byte{0xFF}, 1000)} {
		_, err := JPEG(data, raster.NewBGR(8, 8))
		assert.ErrorIs(t, err, ErrDecode)
		assert.ErrorIs(t, WebP(data, raster.NewBGR(8, 8), false), ErrDecode)
		assert.ErrorIs(t, HEIF(data, raster.NewBGR(8, 8)), ErrDecode)
		_, err = ReadWebPInfo(data)
		assert.ErrorIs(t, err, ErrDecode)
		_, err = ReadHEIFInfo(data)
		assert.ErrorIs(t, err, ErrDecode)
	}
}

// TestBothFormsHoldTheSamePicture: a working picture is read for drawing and for measuring.
func TestBothFormsHoldTheSamePicture(t *testing.T) {
	data, err := WriteJPEG(smooth(83, 57), 92)
	require.NoError(t, err)
	a, err := ReadJPEG(data)
	require.NoError(t, err)
	b, err := ReadJPEGBGR(data)
	require.NoError(t, err)
	require.Equal(t, image.Rect(0, 0, b.W, b.H), a.Rect)
	assert.Equal(t, b.Image().Pix, a.Pix)
	for _, bad := range [][]byte{nil, data[:len(data)/2], []byte("no picture")} {
		_, err := ReadJPEG(bad)
		assert.ErrorIs(t, err, ErrDecode)
		_, err = ReadJPEGBGR(bad)
		assert.ErrorIs(t, err, ErrDecode)
	}
}

// TestReducedIsTheSamePicture: pixels are the means of those they stand for, but for what edges do.
func TestReducedIsTheSamePicture(t *testing.T) {
	data, err := WriteJPEG(smooth(323, 205), 92)
	require.NoError(t, err)
	whole, err := ReadJPEG(data)
	require.NoError(t, err)
	for _, c := range []struct{ width, by int }{{323, 1}, {162, 1}, {161, 2}, {81, 2}, {80, 4}, {41, 4}, {40, 8}, {1, 8}, {0, 8}} {
		m, err := ReadJPEGAtLeast(data, c.width)
		require.NoError(t, err)
		require.Equal(t, image.Rect(0, 0, (323+c.by-1)/c.by, (205+c.by-1)/c.by), m.Rect, "%d px wide", c.width)
		off, n := 0.0, 0.0
		for y := range 205 / c.by {
			for x := range 323 / c.by {
				for k := range 3 {
					sum := 0
					for v := range c.by {
						for u := range c.by {
							sum += int(whole.Pix[whole.PixOffset(x*c.by+u, y*c.by+v)+k])
						}
					}
					d := float64(m.Pix[m.PixOffset(x, y)+k]) - float64(sum)/float64(c.by*c.by)
					off, n = off+d*d, n+1
				}
			}
		}
		t.Logf("reduced by %d: %.2f levels, root mean square", c.by, math.Sqrt(off/n))
		assert.Less(t, math.Sqrt(off/n), 1.5, "reduced by %d", c.by)
	}
}
