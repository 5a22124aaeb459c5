package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"phototrack/internal/gate"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// allocated is how many bytes a call asks for.
func allocated(call func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	call()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// pngHead is a PNG that says it has w x h pixels and has none.
func pngHead(w, h uint32, bits byte) []byte {
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	ihdr = append(ihdr, bits, 6, 0, 0, 0)
	out := append([]byte(pngMagic), chunk("IHDR", ihdr)...)
	return append(append(out, chunk("IDAT", []byte{0x78, 0x9c})...), chunk("IEND", nil)...)
}

// jpegHead is a JPEG whose frame header says w x h.
func jpegHead(sof byte, w, h uint16, bits, components byte) []byte {
	frame := append([]byte{bits}, binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, h), w)...)
	frame = append(frame, components)
	for i := range components {
		frame = append(frame, i+1, 0x11, 0)
	}
	out := append([]byte{0xFF, jpegSOI}, segment(sof, frame)...)
	return append(append(out, segment(jpegSOS, make([]byte, 4))...), 0xFF, jpegEOI)
}

func tiffHead(w, h uint32) []byte {
	return tiffBytes(le, []entry{
		{id: 0x0100, kind: 4, count: 1, value: bytesOf(le, w)}, {id: 0x0101, kind: 4, count: 1, value: bytesOf(le, h)},
		short(le, tagBitsPerSample, 8), short(le, 0x0103, 1), short(le, tagPhotometric, 1),
		{id: 0x0111, kind: 4, count: 1, value: []byte{8, 0, 0, 0}}, {id: 0x0117, kind: 4, count: 1, value: []byte{8, 0, 0, 0}}})
}

func TestRefusals(t *testing.T) {
	le32 := func(v uint32) []byte { return binary.LittleEndian.AppendUint32(nil, v) }
	thumb := tiffBytes(le, []entry{{id: tagNewSubfileType, kind: 4, count: 1, value: []byte{1, 0, 0, 0}}})
	dng := tiffBytes(le, []entry{{id: tagDNGVersion, kind: 1, count: 4, value: []byte{1, 4, 0, 0}}})
	moving := riffWith(testdata(t, "lossy.webp"), 0x02, riffChunk("ANIM", make([]byte, 6)), nil)
	cases := []struct {
		name string
		data []byte
		code record.GateCode
	}{
		{"no bytes", nil, gate.Unreadable},
		{"one byte", []byte{0xFF}, gate.UnknownFormat},
		{"zeros", make([]byte, 5000), gate.UnknownFormat},
		{"text called photo", []byte("this is not a photo"), gate.UnknownFormat},
		{"GIF", []byte("GIF89a\x01\x00\x01\x00"), gate.UnknownFormat},
		{"AVIF", []byte("\x00\x00\x00\x20ftypavif\x00\x00\x00\x00avifmif1"), gate.UnknownFormat},
		{"live photo's film", []byte("\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  "), gate.UnknownFormat},
		{"raw file with a thumbnail first", thumb, gate.UnknownFormat},
		{"DNG", dng, gate.UnknownFormat},
		{"CR2", []byte("II*\x00\x10\x00\x00\x00CR\x02\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00"), gate.UnknownFormat},
		{"CMYK JPEG", testdata(t, "cmyk.jpg"), gate.UnknownFormat},
		{"lossless JPEG", jpegHead(0xC3, 8, 8, 8, 3), gate.UnknownFormat},
		{"12-bit JPEG", jpegHead(jpegSOF1, 8, 8, 12, 3), gate.UnknownFormat},
		{"two-channel JPEG", jpegHead(jpegSOF0, 8, 8, 8, 2), gate.UnknownFormat},
		{"JPEG inside TIFF", testdata(t, "jpeg_inside.tif"), gate.UnknownFormat},
		{"moving WebP", moving, gate.UnknownFormat},
		{"JPEG start alone", []byte{0xFF, 0xD8}, gate.Unreadable},
		{"JPEG without picture", []byte{0xFF, 0xD8, 0xFF, 0xD9}, gate.Unreadable},
		{"JPEG of no width", jpegHead(jpegSOF0, 0, 8, 8, 3), gate.Unreadable},
		{"JPEG of no height", jpegHead(jpegSOF0, 8, 0, 8, 3), gate.Unreadable},
		{"PNG of no width", pngHead(0, 8, 8), gate.Unreadable},
		{"PNG start alone", []byte(pngMagic), gate.Unreadable},
		{"TIFF start alone", []byte("II*\x00\x08\x00\x00\x00"), gate.Unreadable},
		{"WebP start alone", append([]byte("RIFF"), append(le32(4), "WEBP"...)...), gate.Unreadable},
		{"HEIC start alone", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), gate.Unreadable},
		{"HEIC box beyond the end", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\xff\xffmeta"), gate.Unreadable},
		{"JPEG bomb", jpegHead(jpegSOF0, 65535, 65535, 8, 3), gate.TooLarge},
		{"PNG bomb", pngHead(60000, 60000, 8), gate.TooLarge},
		{"PNG of two thousand million columns", pngHead(1<<31-1, 1, 8), gate.TooLarge},
		{"16-bit PNG that fits in pixels but not in memory", pngHead(14000, 14000, 16), gate.TooLarge},
		{"TIFF bomb", tiffHead(60000, 60000), gate.TooLarge},
		{"TIFF of four thousand million columns", tiffHead(1<<32-1, 1<<32-1), gate.TooLarge},
		{"film strip of a panorama", jpegHead(jpegSOF0, 65535, 4000, 8, 3), gate.TooLarge},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var err error
			cost := allocated(func() { _, err = Read(c.data, Limits{}) })
			require.Error(t, err)
			r := ReasonOf(err)
			assert.Equal(t, c.code, r.Code, r.Detail)
			assert.NotEmpty(t, r.Detail)
			_, ok := gate.Lookup(r.Code)
			assert.True(t, ok, "the code is a row of the table of gates")
			assert.Less(t, cost, uint64(2<<20), "bytes allocated for a file that is refused")
			t.Log(r.Detail)
		})
	}
}

func TestLimitsAreTheCallers(t *testing.T) {
	data := encodePNG(t, picture())
	_, err := Read(data, Limits{MaxBytes: int64(len(data)) - 1})
	assert.ErrorIs(t, err, ErrTooLarge)
	_, err = Read(data, Limits{MaxPixels: picW*picH - 1})
	assert.ErrorIs(t, err, ErrTooLarge)
	_, err = Read(data, Limits{MaxPixels: picW * picH, MaxBytes: int64(len(data))})
	assert.NoError(t, err)
}

// TestTheDefaultLimitsAreTheGates keeps the table's words and the numbers together.
func TestTheDefaultLimitsAreTheGates(t *testing.T) {
	g, ok := gate.Lookup(gate.TooLarge)
	require.True(t, ok)
	assert.Equal(t, fmt.Sprintf("%d megapixels, %d MB", DefaultMaxPixels/1_000_000, DefaultMaxBytes/1_000_000), g.Limit)
}

// TestCutShortIsRefused cuts every format at many places: none may come back as a picture, unless what was cut off was not
// needed for it.
func TestCutShortIsRefused(t *testing.T) {
	files := map[string][]byte{
		"JPEG":             encodeJPEG(t, picture()),
		"progressive JPEG": testdata(t, "progressive.jpg"),
		"PNG":              encodePNG(t, picture()),
		"WebP":             testdata(t, "lossy.webp"),
		"lossless WebP":    testdata(t, "lossless_alpha.webp"),
		"TIFF":             encodeTIFF(t, picture(), tiff.Uncompressed),
		"turned TIFF":      turnedTIFF(),
	}
	for name, data := range files {
		t.Run(name, func(t *testing.T) {
			whole := mustRead(t, data)
			for n := range len(data) {
				if len(data) > 4000 && n%7 != 0 {
					continue
				}
				if f, err := Read(data[:n], Limits{}); err == nil && !bytes.Equal(f.Img.Pix, whole.Img.Pix) {
					t.Fatalf("the first %d of %d bytes pass for a photo", n, len(data))
				}
			}
		})
	}
}

// uneven is a picture with plain and busy parts, as photos have.
func uneven(w, h int) raster.BGR {
	img := speckled(w, h)
	for y := range h {
		for x := range w {
			p := img.Pix[3*(y*w+x):]
			busy := (x/37+y/23)%5 + 1
			for k := range 3 {
				p[k] = byte(60 + x*90/w + y*60/h + int(p[k])*busy/40)
			}
		}
	}
	return img
}

// TestDamagedJPEGIsRefused overwrites or takes out stretches of the compressed data, as a failed copy does. The end
// marker is there, so only the decoder can know. Where bytes are lost it may by chance find as many blocks as it needs:
// that is allowed once in ten.
func TestDamagedJPEGIsRefused(t *testing.T) {
	data := encodeJPEG(t, toGo(uneven(1000, 700)))
	h, err := parse(data)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(5, 6))
	const tries, size = 60, 2048
	passed := 0
	for range tries {
		at := h.body + sectorBytes + r.IntN(len(data)-h.body-size-2*sectorBytes)
		at -= at % sectorBytes
		zeroed := bytes.Clone(data)
		clear(zeroed[at : at+size])
		_, err := Read(zeroed, Limits{})
		assert.ErrorIs(t, err, ErrUnreadable, "zeros at %d", at)
		if _, err = Read(append(bytes.Clone(data[:at]), data[at+size:]...), Limits{}); err == nil {
			passed++
		}
	}
	assert.LessOrEqual(t, passed, tries/10, "of %d", tries)
}

// TestLostSectors tells the zeros of a failed copy from zeros that belong there.
func TestLostSectors(t *testing.T) {
	full := bytes.Repeat([]byte{7}, 4096)
	with := func(from, to int) []byte {
		b := bytes.Clone(full)
		clear(b[from:to])
		return b
	}
	cases := []struct {
		name string
		data []byte
		want int
	}{
		{"nothing lost", full, -1},
		{"one sector", with(1024, 1536), 1024},
		{"three sectors", with(512, 2048), 512},
		{"a zero by chance on both sides", with(1023, 1537), 1024},
		{"to the end", with(3584, 4096), 3584},
		{"from the start", with(0, 512), 0},
		{"a plain area within", with(1000, 2500), -1},
		{"a plain area that starts at a border", with(1024, 1600), -1},
		{"part of a sector", with(1024, 1300), -1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, lostSector(c.data, 0, len(c.data))) })
	}
}

// TestTooManyPasses: a progressive file with more passes than any camera writes is refused before it is decoded.
func TestTooManyPasses(t *testing.T) {
	data := testdata(t, "progressive.jpg")
	h, err := parse(data)
	require.NoError(t, err)
	_, _, next, err := jpegSegment(data, h.body)
	require.NoError(t, err)
	pass := data[h.body:skipEntropyCoded(data, next)]
	var out []byte
	out = append(out, data[:h.body]...)
	for range maxJPEGScans + 1 {
		out = append(out, pass...)
	}
	_, err = Read(append(out, 0xFF, jpegEOI), Limits{})
	assert.ErrorIs(t, err, ErrUnreadable)
	assert.ErrorContains(t, err, "passes")
}

// TestTrailingBytesAreNoFault: phones append a film or a second picture behind the end marker.
func TestTrailingBytesAreNoFault(t *testing.T) {
	f := mustRead(t, append(encodeJPEG(t, picture()), bytes.Repeat([]byte("film"), 5000)...))
	assertPicture(t, f.Img, 6)
}

// TestFlippedBits reads files with bits flipped anywhere: a picture or a reason, never a panic.
func TestFlippedBits(t *testing.T) {
	exif := phoneEXIF(le, 6, "2026:05:14 09:30:00", "+02:00")
	files := [][]byte{jpegWith(encodeJPEG(t, picture()), app1(exif)), encodePNG(t, picture()), testdata(t, "lossy.webp"),
		testdata(t, "lossless_alpha.webp"), turnedTIFF(), encodeTIFF(t, picture(), tiff.Deflate), testdata(t, "sample.heic")}
	r := rand.New(rand.NewPCG(7, 8))
	for _, data := range files {
		for range 300 {
			bad := bytes.Clone(data)
			for range 1 + r.IntN(4) {
				bad[r.IntN(min(len(bad), 700))] ^= 1 << r.IntN(8)
			}
			if f, err := Read(bad, Limits{MaxPixels: 1_000_000}); err != nil {
				assert.NotEmpty(t, ReasonOf(err).Detail)
			} else {
				assert.Len(t, f.Img.Pix, 3*f.WidthPx*f.HeightPx)
			}
		}
	}
}

func fuzzSeeds(f *testing.F) {
	exif := phoneEXIF(le, 6, "2026:05:14 09:30:00", "+02:00")
	for _, data := range [][]byte{jpegWith(encodeJPEG(f, picture()), app1(exif)), pngWith(encodePNG(f, picture()), chunk("eXIf", exif)),
		riffWith(testdata(f, "lossy.webp"), 0x08, nil, riffChunk("EXIF", exif)), turnedTIFF(), testdata(f, "lossless_alpha.webp"),
		testdata(f, "progressive.jpg"), pngHead(8, 8, 8), jpegHead(jpegSOF0, 8, 8, 8, 3), tiffHead(8, 8),
		testdata(f, "sample.heic"), []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x08meta")} {
		f.Add(data)
	}
}

// FuzzSniff reads headers of any bytes.
func FuzzSniff(f *testing.F) {
	fuzzSeeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		format, w, h, err := Sniff(data)
		if (err == nil) != (format != "" && w > 0 && h > 0) {
			t.Fatalf("%q %d x %d, %v", format, w, h, err)
		}
	})
}

// FuzzRead decodes any bytes within small limits.
func FuzzRead(f *testing.F) {
	fuzzSeeds(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Read(data, Limits{MaxPixels: 100_000})
		if err == nil && len(p.Img.Pix) != 3*p.WidthPx*p.HeightPx {
			t.Fatal("size and pixels disagree")
		}
		if err != nil {
			if _, ok := gate.Lookup(ReasonOf(err).Code); !ok {
				t.Fatalf("no gate for %v", err)
			}
		}
	})
}
