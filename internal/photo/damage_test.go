package photo

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
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
