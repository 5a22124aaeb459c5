package codec

import (
	"bytes"
	"image"
	"image/jpeg"
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
