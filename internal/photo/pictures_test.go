package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	stdimage "image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/icc"
	"phototrack/internal/raster"
)

// The test picture: smooth, without symmetry, each corner in a colour of its own.
const picW, picH = 96, 64

func picAt(x, y int) color.NRGBA {
	return color.NRGBA{uint8(40 + 2*x), uint8(30 + 3*y), uint8(200 - x - y/2), 255}
}

func picture() *stdimage.NRGBA {
	img := stdimage.NewNRGBA(stdimage.Rect(0, 0, picW, picH))
	for y := range picH {
		for x := range picW {
			img.SetNRGBA(x, y, picAt(x, y))
		}
	}
	return img
}

func encodePNG(t testing.TB, img stdimage.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func encodeJPEG(t testing.TB, img stdimage.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

// jpegWith puts segments behind the start marker.
func jpegWith(data []byte, segments ...[]byte) []byte {
	out := append([]byte(nil), data[:2]...)
	for _, s := range segments {
		out = append(out, s...)
	}
	return append(out, data[2:]...)
}

func app1(exif []byte) []byte { return segment(jpegAPP1, append([]byte("Exif\x00\x00"), exif...)) }

func segment(marker byte, content []byte) []byte {
	out := []byte{0xFF, marker, 0, 0}
	binary.BigEndian.PutUint16(out[2:], uint16(len(content)+2))
	return append(out, content...)
}

// app2 spreads a profile over n segments.
func app2(profile []byte, n int) []byte {
	var out []byte
	size := (len(profile) + n - 1) / n
	for i := range n {
		part := profile[i*size : min(len(profile), (i+1)*size)]
		out = append(out, segment(jpegAPP2, append(append([]byte("ICC_PROFILE\x00"), byte(i+1), byte(n)), part...))...)
	}
	return out
}

// pngWith puts chunks behind the header.
func pngWith(data []byte, chunks ...[]byte) []byte {
	const head = len(pngMagic) + 25
	out := append([]byte(nil), data[:head]...)
	for _, c := range chunks {
		out = append(out, c...)
	}
	return append(out, data[head:]...)
}

func chunk(kind string, content []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	out = append(append(out, kind...), content...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func iccp(profile []byte) []byte {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	_, _ = w.Write(profile)
	_ = w.Close()
	return chunk("iCCP", append([]byte("name\x00\x00"), z.Bytes()...))
}

// riffWith makes an extended WebP of a simple one: flags, then the chunks around the picture.
func riffWith(data []byte, flags byte, before, after []byte) []byte {
	head := riffChunk("VP8X", []byte{flags, 0, 0, 0, picW - 1, 0, 0, picH - 1, 0, 0})
	body := append([]byte("WEBP"), head...)
	body = append(append(append(body, before...), data[12:]...), after...)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}

func riffChunk(kind string, content []byte) []byte {
	out := append(binary.LittleEndian.AppendUint32([]byte(kind), uint32(len(content))), content...)
	if len(content)%2 == 1 {
		out = append(out, 0)
	}
	return out
}

func profileBytes(t testing.TB, open func() (*icc.Profile, error)) []byte {
	t.Helper()
	p, err := open()
	require.NoError(t, err)
	defer p.Close()
	b, err := p.Bytes()
	require.NoError(t, err)
	return b
}

func mustRead(t testing.TB, data []byte) *Frame {
	t.Helper()
	f, err := Read(data, Limits{})
	require.NoError(t, err)
	require.Len(t, f.Img.Pix, 3*f.Img.W*f.Img.H)
	require.Equal(t, f.WidthPx, f.Img.W)
	require.Equal(t, f.HeightPx, f.Img.H)
	return f
}

// assertPicture compares with the test picture, each channel within tolerance levels.
func assertPicture(t testing.TB, got raster.BGR, tolerance int) {
	t.Helper()
	require.Equal(t, picW, got.W)
	require.Equal(t, picH, got.H)
	assertNear(t, fromGo(picture()), got, tolerance)
}

func assertNear(t testing.TB, want, got raster.BGR, tolerance int) {
	t.Helper()
	require.Equal(t, [2]int{want.W, want.H}, [2]int{got.W, got.H})
	worst := 0
	for i := range want.Pix {
		d := int(want.Pix[i]) - int(got.Pix[i])
		worst = max(worst, d, -d)
	}
	assert.LessOrEqual(t, worst, tolerance, "levels")
}
