package photo

import (
	"bytes"
	"image/jpeg"
	"sync"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"phototrack/internal/codec"
	"phototrack/internal/icc"
	"phototrack/internal/raster"
	"phototrack/internal/reftest"
)

// phonePhoto is a JPEG of 4032 x 3024 px with plain and busy parts.
var phonePhoto = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	img := imaging.Resize(toGo(uneven(1344, 1008)), 4032, 3024, imaging.Linear)
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}); err != nil {
		panic(err)
	}
	return b.Bytes()
})

func benchRead(b *testing.B, data []byte) {
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		_, err := Read(data, Limits{})
		require.NoError(b, err)
	}
}

// BenchmarkDecodeOnly is the decoder's own time, against which Read is to be held.
func BenchmarkDecodeOnly(b *testing.B) {
	data := phonePhoto()
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		_, err := codec.JPEG(data, raster.NewBGR(4032, 3024))
		require.NoError(b, err)
	}
}

func BenchmarkRead(b *testing.B) { benchRead(b, phonePhoto()) }

func BenchmarkReadTurned(b *testing.B) {
	benchRead(b, jpegWith(phonePhoto(), app1(phoneEXIF(le, 6, "2026:05:14 09:30:00", "+02:00"))))
}

func BenchmarkReadDisplayP3(b *testing.B) {
	benchRead(b, jpegWith(phonePhoto(), app2(profileBytes(b, icc.DisplayP3), 1)))
}

func BenchmarkReadHEIC(b *testing.B) { benchRead(b, reftest.HEIC(b, ".jpg", phonePhoto(), "-q", "60")) }

func BenchmarkSniff(b *testing.B) {
	data := phonePhoto()
	for b.Loop() {
		_, _, _, err := Sniff(data)
		require.NoError(b, err)
	}
}
