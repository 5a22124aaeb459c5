package pipeline

import (
	"bytes"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
	"golang.org/x/image/tiff"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// Photos with one flipped bit, of every kind of file: none is accepted with an area that lies outside its interval. All of
// make torture; a sample of it otherwise.
func TestNoFlippedBitGivesAWrongArea(t *testing.T) {
	reftest.Slow(t)
	torture := os.Getenv("PHOTOTRACK_TORTURE") != ""
	n := 2
	if torture {
		n = 30
	}
	jpg, err := os.ReadFile("../../samples/photos/012_2026-03_L.jpg")
	require.NoError(t, err)
	var w Measurer
	defer w.Close()
	job := Job{Name: "012.jpg", GivenDate: record.Stamp{Time: time.Date(2026, 3, 7, 12, 0, 0, 0, time.UTC), Source: "given"}}
	total, accepted, wrong := 0, 0, 0
	for kind, good := range everyKind(t, jpg) {
		if !torture && !strings.HasPrefix(kind, "HEIC") && kind != "WebP" {
			continue
		}
		sound := w.Measure(good, job, nil)
		want, ok := sound.Find(record.LeafArea)
		require.True(t, ok, "%s: %v", kind, sound.Reasons)
		rng := rand.New(rand.NewPCG(17, uint64(len(kind))))
		counts := map[record.Status]int{}
		for range n {
			bad := bytes.Clone(good)
			at := rng.IntN(len(bad))
			bad[at] ^= 1 << rng.IntN(8)
			p := w.Measure(bad, job, nil)
			counts[p.Status]++
			total++
			got, ok := p.Find(record.LeafArea)
			if p.Status != record.Accepted || !ok {
				continue
			}
			accepted++
			if off := math.Abs(got.Value - want.Value); off > want.U95 {
				wrong++
				t.Errorf("%s: with a bit flipped in byte %d of %d the area is %.1f, not %.1f ± %.1f", kind, at, len(bad), got.Value, want.Value, want.U95)
			}
		}
		t.Logf("%-22s %v %s", kind, counts, gate.Codes(sound.Reasons))
	}
	t.Logf("%d files, %d accepted, %d of them outside the interval", total, accepted, wrong)
	assert.Zero(t, wrong)
}

// everyKind is one photo in every kind of file, by the encoders of Go, of OpenCV (libwebp, libtiff) and by heif-enc (x265).
func everyKind(t *testing.T, jpg []byte) map[string][]byte {
	img, err := imaging.Decode(bytes.NewReader(jpg))
	require.NoError(t, err)
	m, err := gocv.IMDecode(jpg, gocv.IMReadColor)
	require.NoError(t, err)
	defer m.Close()
	by := func(ext string, params ...int) []byte {
		buf, err := gocv.IMEncodeWithParams(gocv.FileExt(ext), m, params)
		require.NoError(t, err)
		defer buf.Close()
		return bytes.Clone(buf.GetBytes())
	}
	var p, plain, deflate bytes.Buffer
	require.NoError(t, png.Encode(&p, img))
	require.NoError(t, tiff.Encode(&plain, img, nil))
	require.NoError(t, tiff.Encode(&deflate, img, &tiff.Options{Compression: tiff.Deflate, Predictor: true}))
	return map[string][]byte{
		"JPEG":           jpg,
		"progressive":    by(".jpg", gocv.IMWriteJpegQuality, 92, gocv.IMWriteJpegProgressive, 1),
		"PNG":            p.Bytes(),
		"TIFF":           plain.Bytes(),
		"TIFF, Deflate":  deflate.Bytes(),
		"TIFF, LZW":      by(".tiff", 259, 5), // IMWRITE_TIFF_COMPRESSION
		"WebP":           by(".webp", gocv.IMWriteWebpQuality, 90),
		"WebP, lossless": by(".webp", gocv.IMWriteWebpQuality, 101),
		"HEIC":           reftest.HEIC(t, ".jpg", jpg, "-q", "90"),
		"HEIC, small":    reftest.HEIC(t, ".jpg", jpg, "-q", "45"),
	}
}
