package pipeline

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// A phone's HEIC gives the numbers of the JPEG of the same scene: area within 0.5 %, shares within a point, the same date
// and plant. x265 is asked to hurry: it takes longer than all else here, and what it can do is decoded in package photo.
func TestHEICMeasuresAsJPEG(t *testing.T) {
	for _, file := range []string{"012_2026-03_L.jpg", "017_2026-07_L.jpg"} {
		data, err := os.ReadFile(filepath.Join("../../samples/photos", file))
		require.NoError(t, err)
		assertAlike(t, file, data, reftest.HEIC(t, ".jpg", data, "-q", "90", "-p", "preset=ultrafast"))
	}
}

// The same of one with ten bits a channel, which heif-enc makes of a PNG with sixteen; neither has EXIF data.
func TestTenBitHEICMeasuresAsPNG(t *testing.T) {
	reftest.Slow(t)
	data, err := os.ReadFile("../../samples/photos/023_2026-06_L.jpg")
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	deep := image.NewNRGBA64(img.Bounds())
	draw.Draw(deep, deep.Rect, img, deep.Rect.Min, draw.Src)
	var b bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, deep))
	assertAlike(t, "2026-06-13.png", b.Bytes(), reftest.HEIC(t, ".png", b.Bytes(), "-q", "90", "-b", "10"))
}

func assertAlike(t *testing.T, name string, plain, heic []byte) {
	t.Helper()
	want, got := Measure(plain, Job{Name: name}, nil), Measure(heic, Job{Name: name}, nil)
	require.NotEqual(t, record.Rejected, want.Status, "%s: %v", name, want.Reasons)
	require.Equal(t, want.Status, got.Status, "%s: %v", name, got.Reasons)
	assert.Equal(t, want.Plant, got.Plant)
	assert.Equal(t, want.Taken, got.Taken, name)
	a, b := quantityOf(t, want, record.LeafArea), quantityOf(t, got, record.LeafArea)
	worst := 0.0
	for _, c := range []record.QuantityName{record.GreenShare, record.YellowShare, record.PurpleShare, record.BrownShare} {
		worst = max(worst, math.Abs(quantityOf(t, want, c)-quantityOf(t, got, c)))
	}
	t.Logf("%s: area %+.2f %%, worst share %.2f points", name, 100*(b/a-1), 100*worst)
	assert.InEpsilon(t, a, b, 0.005, name)
	assert.Less(t, worst, 0.01, name)
}

func quantityOf(t *testing.T, p record.Photo, name record.QuantityName) float64 {
	t.Helper()
	for _, q := range p.Quantities {
		if q.Name == name {
			return q.Value
		}
	}
	require.Fail(t, "no "+string(name))
	return 0
}
