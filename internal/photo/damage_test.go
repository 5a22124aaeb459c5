package photo

import (
	"bytes"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
	"golang.org/x/image/tiff"

	"phototrack/internal/reftest"
)

// A WebP of the lossy kind with a flipped bit in its picture is refused: it decodes without a complaint to another picture.
// The encoder is that of libwebp, by way of OpenCV.
func TestAFlippedBitInALossyWebPIsRefused(t *testing.T) {
	m := gocv.IMRead("../../samples/photos/012_2026-03_L.jpg", gocv.IMReadColor)
	require.False(t, m.Empty())
	defer m.Close()
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(m, &small, struct{ X, Y int }{}, 0.3, 0.3, gocv.InterpolationArea) // a zero point: the size follows from the factors
	all := 0
	limits := Limits{MaxPixels: 1 << 28, MaxBytes: 1 << 28}
	for _, quality := range []int{50, 80, 95} {
		buf, err := gocv.IMEncodeWithParams(".webp", small, []int{gocv.IMWriteWebpQuality, quality})
		require.NoError(t, err)
		good := bytes.Clone(buf.GetBytes())
		_, err = Read(good, limits)
		require.NoError(t, err, "quality %d: the sound file is read", quality)
		rng := rand.New(rand.NewPCG(9, uint64(quality)))
		accepted := 0
		const flips = 50
		for range flips {
			bad := bytes.Clone(good)
			bad[60+rng.IntN(len(bad)-70)] ^= 1 << rng.IntN(8) // behind the headers
			if _, err := Read(bad, limits); err == nil {
				accepted++
			}
		}
		t.Logf("quality %d, %d bytes: %d of %d flips accepted", quality, len(good), accepted, flips)
		all += accepted
	}
	// A flip in the last of the data, or one after which the code falls into step again by chance, is not seen.
	assert.LessOrEqual(t, all, 7, "of 150: one in twenty")
}

// A HEIC with a flipped bit in its picture data is refused: libheif alone shows most of them as if they were sound. The
// encoder is x265, by way of heif-enc.
func TestAFlippedBitInAHEICIsRefused(t *testing.T) {
	jpg, err := os.ReadFile("../../samples/photos/012_2026-03_L.jpg")
	require.NoError(t, err)
	img := toGo(mustRead(t, jpg).Img)
	png := encodePNG(t, imaging.Resize(img, img.Bounds().Dx()/5, 0, imaging.Box))
	const flips = 30
	all, accepted := 0, 0
	for _, options := range [][]string{{"-q", "50"}, {"-q", "90"}, {"-q", "98", "-p", "chroma=444"}, {"-q", "80", "-b", "10"}} {
		good := reftest.HEIC(t, ".png", png, options...)
		mustRead(t, good)
		from := bytes.Index(good, []byte("mdat")) + 60 // behind the head of the slice
		rng := rand.New(rand.NewPCG(9, uint64(len(good))))
		for range flips {
			bad := bytes.Clone(good)
			at := from + rng.IntN(len(bad)-from-64) // what the last bytes say is only the last corner
			bad[at] ^= 1 << rng.IntN(8)
			if _, err := Read(bad, Limits{}); err == nil {
				accepted++
				t.Logf("%v: bit %d of %d passes", options, 8*at, 8*len(bad))
			} else {
				assert.NotContains(t, err.Error(), "plugin", "the words are ours")
			}
			all++
		}
	}
	// One after which the code falls into step again by chance passes.
	assert.LessOrEqual(t, accepted, 3, "of %d", all)
}

// A flipped bit in a WebP of the lossless kind is mostly not to be seen, though it can spoil half the picture: such files, and
// TIFF files packed in ways without a checksum, say so of themselves.
func TestFilesThatCannotBeCheckedSaySo(t *testing.T) {
	for name, want := range map[string]string{"lossless_alpha.webp": "a WebP of the lossless kind", "lossy.webp": "", "lossy_alpha.webp": "", "sample.heic": ""} {
		assert.Equal(t, want, mustRead(t, testdata(t, name)).Unchecked, name)
	}
	assert.Empty(t, mustRead(t, encodeTIFF(t, picture(), tiff.Uncompressed)).Unchecked)
	assert.Empty(t, mustRead(t, encodeTIFF(t, picture(), tiff.Deflate)).Unchecked)
	assert.Equal(t, "a TIFF packed by LZW", mustRead(t, lzwTIFF(t)).Unchecked)
}

// lzwTIFF packs a grey picture by OpenCV's encoder, which is libtiff's.
func lzwTIFF(t *testing.T) []byte {
	m := gocv.NewMatWithSize(40, 50, gocv.MatTypeCV8UC3)
	defer m.Close()
	const compression, lzw = 259, 5 // IMWRITE_TIFF_COMPRESSION
	buf, err := gocv.IMEncodeWithParams(".tiff", m, []int{compression, lzw})
	require.NoError(t, err)
	return bytes.Clone(buf.GetBytes())
}
