package photo

import (
	"bytes"
	"encoding/binary"
	stdimage "image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/codec"
	"phototrack/internal/icc"
	"phototrack/internal/reftest"
)

// withProperty adds a property box to the first item of a file of heif-enc: box in ipco, its number in ipma, and all
// offsets behind moved on (ISO/IEC 14496-12 and 23008-12).
func withProperty(t testing.TB, heic, box []byte) []byte {
	t.Helper()
	be := binary.BigEndian
	find := func(kind string) int {
		at := bytes.Index(heic, []byte(kind)) - 4
		require.GreaterOrEqual(t, at, 0, kind)
		return at
	}
	ipco, ipma, iloc := find("ipco"), find("ipma"), find("iloc")
	delta := len(box) + 1
	for _, kind := range []string{"meta", "iprp"} {
		at := find(kind)
		be.PutUint32(heic[at:], be.Uint32(heic[at:])+uint32(delta))
	}
	require.Equal(t, []byte{0, 0, 0, 0, 0x44, 0x40}, heic[iloc+8:iloc+14], "the layout this writes for")
	for i := range int(be.Uint16(heic[iloc+14:])) {
		base := iloc + 16 + 18*i + 4
		be.PutUint32(heic[base:], be.Uint32(heic[base:])+uint32(delta))
	}
	end := ipco + int(be.Uint32(heic[ipco:]))
	number := byte(1)
	for at := ipco + 8; at < end; at += int(be.Uint32(heic[at:])) {
		number++
	}
	be.PutUint32(heic[ipco:], be.Uint32(heic[ipco:])+uint32(len(box)))
	be.PutUint32(heic[ipma:], be.Uint32(heic[ipma:])+1)
	last := ipma + 19 + int(heic[ipma+18])
	heic[ipma+18]++
	out := append(append(bytes.Clone(heic[:end]), box...), heic[end:last]...)
	return append(append(out, 0x80|number), heic[last:]...)
}

// irot is the box that turns a picture, in quarter turns against the clock.
func irot(quarters byte) []byte { return append([]byte("\x00\x00\x00\x09irot"), quarters) }

// nclx is the box that names colours by code points.
func nclx(primaries, transfer byte) []byte {
	return []byte{0, 0, 0, 19, 'c', 'o', 'l', 'r', 'n', 'c', 'l', 'x', 0, primaries, 0, transfer, 0, 6, 0x80}
}

// TestHEICIsTheJPEG: the same photo as JPEG and as HEIC with its date. A phone says twice how a HEIC is turned, in a box
// and in EXIF; only the box counts (ISO/IEC 23008-12), and it is applied once.
func TestHEICIsTheJPEG(t *testing.T) {
	cases := []struct {
		orientation uint16
		quarters    byte
	}{{1, 0}, {3, 2}, {6, 3}, {8, 1}}
	for _, c := range cases {
		exif := phoneEXIF(binary.BigEndian, c.orientation, "2026:05:14 09:30:00", "+02:00")
		jpg := jpegWith(encodeJPEG(t, picture()), app1(exif))
		want := mustRead(t, jpg)
		got := mustRead(t, withProperty(t, reftest.HEIC(t, ".jpg", jpg, "-q", "95"), irot(c.quarters)))
		assert.Equal(t, HEIC, got.Format)
		assert.Equal(t, 1, got.Orientation, "nothing is left to turn")
		assert.Equal(t, "2026-05-14T09:30:00+02:00", got.Taken.String())
		assert.Equal(t, "Maker Phone 9", got.Camera)
		assert.Equal(t, 26.0, got.F35MM)
		assertNear(t, want.Img, got.Img, 12)
	}
}

func TestTenBitHEIC(t *testing.T) {
	data := reftest.HEIC(t, ".png", encodePNG(t, deep()), "-b", "10", "-q", "95")
	info, err := codec.ReadHEIFInfo(data)
	require.NoError(t, err)
	require.Equal(t, 10, info.Bits)
	assertPicture(t, mustRead(t, data).Img, 12)
}

// TestHEICColours: Display P3 by profile and by code points ends in the same sRGB as the JPEG with that profile.
func TestHEICColours(t *testing.T) {
	soft := stdimage.NewNRGBA(stdimage.Rect(0, 0, picW, picH))
	for y := range picH {
		for x := range picW {
			soft.SetNRGBA(x, y, color.NRGBA{uint8(90 + x), uint8(150 - y), uint8(100 + x/2), 255})
		}
	}
	want := fromGo(soft)
	p, err := icc.DisplayP3()
	require.NoError(t, err)
	defer p.Close()
	_, err = p.ToSRGB(want.Pix)
	require.NoError(t, err)
	tagged := pngWith(encodePNG(t, soft), iccp(profileBytes(t, icc.DisplayP3)))
	cases := []struct {
		name, says string
		data       []byte
	}{
		{"profile", "converted to sRGB", reftest.HEIC(t, ".png", tagged, "-q", "95")},
		{"code points in a box", "Display P3: converted to sRGB", withProperty(t, reftest.HEIC(t, ".png", encodePNG(t, soft), "-q", "95"), nclx(12, 13))},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := mustRead(t, c.data)
			assert.Contains(t, f.Profile, c.says)
			assertNear(t, want, f.Img, 8)
		})
	}
	t.Run("sRGB", func(t *testing.T) {
		assertNear(t, fromGo(soft), mustRead(t, reftest.HEIC(t, ".png", encodePNG(t, soft), "-q", "95")).Img, 8)
	})
	t.Run("HDR is refused", func(t *testing.T) {
		plain := reftest.HEIC(t, ".png", encodePNG(t, soft))
		_, err := Read(withProperty(t, plain, nclx(9, transferPQ)), Limits{})
		assert.ErrorIs(t, err, ErrUnknownFormat)
	})
}

func TestTransparentHEICIsLaidOverWhite(t *testing.T) {
	img, over := see()
	assertNear(t, over, mustRead(t, reftest.HEIC(t, ".png", encodePNG(t, img), "-q", "98", "-p", "chroma=444")).Img, 16)
}

func TestHEICCutShortIsRefused(t *testing.T) {
	data := reftest.HEIC(t, ".jpg", encodeJPEG(t, picture()), "-q", "95")
	for n := 0; n < len(data); n += 3 {
		if _, err := Read(data[:n], Limits{}); err == nil {
			t.Fatalf("the first %d of %d bytes pass for a photo", n, len(data))
		}
	}
	_, err := Read(data, Limits{MaxPixels: 100})
	assert.ErrorIs(t, err, ErrTooLarge)
}

// TestHEICWithLostSectorsIsRefused: the decoder conceals what is missing, so zeros of a failed copy are looked for.
func TestHEICWithLostSectorsIsRefused(t *testing.T) {
	data := reftest.HEIC(t, ".jpg", encodeJPEG(t, toGo(uneven(700, 500))), "-q", "90")
	mustRead(t, data)
	for at := 8 * sectorBytes; at+3*sectorBytes < len(data); at += 7 * sectorBytes {
		bad := bytes.Clone(data)
		clear(bad[at : at+2*sectorBytes])
		_, err := Read(bad, Limits{})
		assert.ErrorIs(t, err, ErrUnreadable, "zeros at %d of %d", at, len(data))
	}
}
