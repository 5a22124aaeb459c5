package photo

import (
	"bytes"
	"encoding/binary"
	stdimage "image"
	"image/color"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"phototrack/internal/cv"
	"phototrack/internal/icc"
	"phototrack/internal/raster"
	"phototrack/internal/reftest"
)

var le = binary.LittleEndian

func testdata(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return data
}

func encodeTIFF(t testing.TB, img stdimage.Image, c tiff.CompressionType) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, img, &tiff.Options{Compression: c}))
	return b.Bytes()
}

// deep is the test picture in 16 bits, a third of a level off so that rounding shows.
func deep() *stdimage.NRGBA64 {
	img := stdimage.NewNRGBA64(stdimage.Rect(0, 0, picW, picH))
	for y := range picH {
		for x := range picW {
			c := picAt(x, y)
			img.SetNRGBA64(x, y, color.NRGBA64{R: uint16(c.R)*257 + 85, G: uint16(c.G)*257 - 85, B: uint16(c.B)*257 + 85, A: 0xFFFF})
		}
	}
	return img
}

// see is the test picture with opacity 255 - 2x, and what it looks like over white.
func see() (img *stdimage.NRGBA, over raster.BGR) {
	img, white := picture(), picture()
	for y := range picH {
		for x := range picW {
			c := img.NRGBAAt(x, y)
			c.A = uint8(255 - 2*x)
			img.SetNRGBA(x, y, c)
			mix := func(v uint8) uint8 { return uint8((int(v)*int(c.A) + 255*(255-int(c.A)) + 127) / 255) }
			white.SetNRGBA(x, y, color.NRGBA{mix(c.R), mix(c.G), mix(c.B), 255})
		}
	}
	return img, fromGo(white)
}

func TestFormatsGiveThePicture(t *testing.T) {
	cases := []struct {
		name, format string
		data         []byte
		tolerance    int
	}{
		{"JPEG", JPEG, encodeJPEG(t, picture()), 6},
		{"progressive JPEG", JPEG, testdata(t, "progressive.jpg"), 8},
		{"PNG", PNG, encodePNG(t, picture()), 0},
		{"16-bit PNG", PNG, encodePNG(t, deep()), 0},
		{"TIFF", TIFF, encodeTIFF(t, picture(), tiff.Uncompressed), 0},
		{"deflated TIFF", TIFF, encodeTIFF(t, picture(), tiff.Deflate), 0},
		{"16-bit TIFF", TIFF, encodeTIFF(t, deep(), tiff.Deflate), 0},
		{"WebP", WebP, testdata(t, "lossy.webp"), 10},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			format, w, h, err := Sniff(c.data)
			require.NoError(t, err)
			assert.Equal(t, []any{c.format, picW, picH}, []any{format, w, h})
			f := mustRead(t, c.data)
			assert.Equal(t, c.format, f.Format)
			assertPicture(t, f.Img, c.tolerance)
			assert.True(t, f.Taken.IsZero(), "a file without EXIF data has no date")
			assert.Equal(t, 1, f.Orientation)
			assert.Equal(t, "no profile: taken as sRGB", f.Profile)
			assert.Empty(t, f.Notes)
		})
	}
}

func TestTransparencyIsLaidOverWhite(t *testing.T) {
	img, over := see()
	cases := []struct {
		name      string
		data      []byte
		tolerance int
	}{
		{"PNG", encodePNG(t, img), 1},
		{"TIFF", encodeTIFF(t, img, tiff.Deflate), 1},
		{"lossless WebP", testdata(t, "lossless_alpha.webp"), 1},
		{"lossy WebP", testdata(t, "lossy_alpha.webp"), 10},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assertNear(t, over, mustRead(t, c.data).Img, c.tolerance) })
	}
}

func TestGreyAndPaletteBecomeColour(t *testing.T) {
	grey := stdimage.NewGray(stdimage.Rect(0, 0, picW, picH))
	grey16 := stdimage.NewGray16(grey.Bounds())
	pal := stdimage.NewPaletted(grey.Bounds(), color.Palette{color.NRGBA{10, 200, 30, 255}, color.NRGBA{250, 20, 90, 255}})
	wantGrey, wantPal := raster.NewBGR(picW, picH), raster.NewBGR(picW, picH)
	for y := range picH {
		for x := range picW {
			v, i := uint8(2*x+y/2), 3*(y*picW+x)
			grey.SetGray(x, y, color.Gray{v})
			grey16.SetGray16(x, y, color.Gray16{uint16(v)*257 + 100})
			copy(wantGrey.Pix[i:], []byte{v, v, v})
			pal.SetColorIndex(x, y, uint8((x+y)%2))
			copy(wantPal.Pix[i:], [][]byte{{30, 200, 10}, {90, 20, 250}}[(x+y)%2])
		}
	}
	cases := []struct {
		name      string
		data      []byte
		want      raster.BGR
		tolerance int
	}{
		{"grey PNG", encodePNG(t, grey), wantGrey, 0},
		{"grey 16-bit PNG", encodePNG(t, grey16), wantGrey, 0},
		{"grey TIFF", encodeTIFF(t, grey, tiff.Uncompressed), wantGrey, 0},
		{"grey JPEG", encodeJPEG(t, grey), wantGrey, 4},
		{"palette PNG", encodePNG(t, pal), wantPal, 0},
		{"palette TIFF", encodeTIFF(t, pal, tiff.Uncompressed), wantPal, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assertNear(t, c.want, mustRead(t, c.data).Img, c.tolerance) })
	}
}

// TestEXIFInEveryContainer: the same EXIF data, the same date, and the picture turned.
func TestEXIFInEveryContainer(t *testing.T) {
	exif := phoneEXIF(le, 6, "2026:05:14 09:30:00", "+02:00")
	plainPNG := encodePNG(t, picture())
	late := append(append([]byte(nil), plainPNG[:len(plainPNG)-12]...), chunk("eXIf", exif)...)
	late = append(late, plainPNG[len(plainPNG)-12:]...)
	cases := []struct {
		name      string
		data      []byte
		tolerance int
	}{
		{"JPEG", jpegWith(encodeJPEG(t, picture()), app1(exif)), 6},
		{"PNG", pngWith(plainPNG, chunk("eXIf", exif)), 0},
		{"PNG, EXIF behind the picture", late, 0},
		{"WebP", riffWith(testdata(t, "lossy.webp"), 0x08, nil, riffChunk("EXIF", exif)), 10},
		{"WebP with JPEG's tag", riffWith(testdata(t, "lossy.webp"), 0x08, nil, riffChunk("EXIF", append([]byte("Exif\x00\x00"), exif...))), 10},
		{"TIFF", turnedTIFF(), 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := mustRead(t, c.data)
			assert.Equal(t, 6, f.Orientation)
			assert.Equal(t, picH, f.WidthPx)
			assert.Equal(t, picW, f.HeightPx)
			assert.Equal(t, "2026-05-14T09:30:00+02:00", f.Taken.String())
			assert.Equal(t, "Maker Phone 9", f.Camera)
			assert.Equal(t, 26.0, f.F35MM)
			assertNear(t, Upright(fromGo(picture()), 6), f.Img, c.tolerance)
		})
	}
}

// turnedTIFF is an uncompressed TIFF of the test picture that holds the tags of phoneEXIF beside its own.
func turnedTIFF() []byte {
	pix := make([]byte, 0, 3*picW*picH)
	for y := range picH {
		for x := range picW {
			c := picAt(x, y)
			pix = append(pix, c.R, c.G, c.B)
		}
	}
	const strips = 0x0111
	dir := []entry{
		short(le, 0x0100, picW), short(le, 0x0101, picH),
		{id: tagBitsPerSample, kind: 3, count: 3, value: bytesOf(le, [3]uint16{8, 8, 8})},
		short(le, 0x0103, 1), short(le, tagPhotometric, 2), ascii(tagMake, "Maker"), ascii(tagModel, "Phone 9"),
		{id: strips, kind: 4, count: 1, value: []byte{0, 0, 0, 0}},
		short(le, tagOrientation, 6), short(le, 0x0115, 3), short(le, 0x0116, picH),
		{id: 0x0117, kind: 4, count: 1, value: bytesOf(le, uint32(len(pix)))},
		pointer(tagExifDirectory, ascii(tagDateTimeOriginal, "2026:05:14 09:30:00"), ascii(tagOffsetTimeOriginal, "+02:00"),
			short(le, tagFocalLength35mm, 26)),
	}
	out := tiffBytes(le, dir)
	for i, e := range dir {
		if e.id == strips {
			le.PutUint32(out[8+2+12*i+8:], uint32(len(out)))
		}
	}
	return append(out, pix...)
}

// TestProfilesInEveryContainer: a picture whose numbers are Display P3 comes out as sRGB.
func TestProfilesInEveryContainer(t *testing.T) {
	p3 := profileBytes(t, icc.DisplayP3)
	p, err := icc.DisplayP3()
	require.NoError(t, err)
	defer p.Close()
	jpg, web, pic := encodeJPEG(t, picture()), testdata(t, "lossy.webp"), encodePNG(t, picture())
	cases := []struct {
		name          string
		plain, tagged []byte
	}{
		{"JPEG", jpg, jpegWith(jpg, app2(p3, 1))},
		{"JPEG in three parts", jpg, jpegWith(jpg, app2(p3, 3))},
		{"PNG", pic, pngWith(pic, iccp(p3))},
		{"WebP", web, riffWith(web, 0x20, riffChunk("ICCP", p3), nil)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			want := mustRead(t, c.plain).Img
			_, err := p.ToSRGB(want.Pix)
			require.NoError(t, err)
			f := mustRead(t, c.tagged)
			assert.Contains(t, f.Profile, "converted to sRGB")
			assertNear(t, want, f.Img, 1)
		})
	}
	t.Run("Adobe RGB named by EXIF", func(t *testing.T) {
		exif := tiffBytes(le, []entry{pointer(tagExifDirectory, short(le, tagColourSpace, 0xFFFF),
			pointer(tagInteropDirectory, ascii(tagInteropIndex, "R03")))})
		f := mustRead(t, pngWith(encodePNG(t, picture()), chunk("eXIf", exif)))
		assert.Equal(t, "Adobe RGB (1998): converted to sRGB", f.Profile)
	})
}

func TestBrokenProfilesAreToldAndLeftOut(t *testing.T) {
	p3 := profileBytes(t, icc.DisplayP3)
	parts := app2(p3, 3)
	second := len(app2(p3[:(len(p3)+2)/3], 1))
	cases := map[string][]byte{
		"rubbish":        pngWith(encodePNG(t, picture()), iccp(bytes.Repeat([]byte("x"), 500))),
		"empty":          pngWith(encodePNG(t, picture()), iccp(nil)),
		"not packed":     pngWith(encodePNG(t, picture()), chunk("iCCP", append([]byte("name\x00\x00"), p3...))),
		"no name":        pngWith(encodePNG(t, picture()), chunk("iCCP", []byte("name"))),
		"bomb":           pngWith(encodePNG(t, picture()), iccp(make([]byte, 64<<20))),
		"a part missing": jpegWith(encodeJPEG(t, picture()), parts[second:]),
		"a part twice":   jpegWith(encodeJPEG(t, picture()), parts, parts[:second]),
	}
	for name, data := range cases {
		t.Run(name, func(t *testing.T) {
			f := mustRead(t, data)
			assert.Contains(t, f.Profile, "taken as sRGB")
			assert.Len(t, f.Notes, 1)
			assertPicture(t, f.Img, 6)
		})
	}
}

// TestJPEGIsOpenCVs: going to the JPEG library directly gives the pixels that OpenCV gives.
func TestJPEGIsOpenCVs(t *testing.T) {
	for name, data := range map[string][]byte{"baseline": encodeJPEG(t, picture()), "progressive": testdata(t, "progressive.jpg")} {
		t.Run(name, func(t *testing.T) {
			want, err := cv.Decode(data)
			require.NoError(t, err)
			assert.Equal(t, want, mustRead(t, data).Img)
		})
	}
}

// TestMemoryUsedAgainLeavesNoTrace: a reader that has read other pictures gives what a new one gives.
func TestMemoryUsedAgainLeavesNoTrace(t *testing.T) {
	files := map[string][]byte{
		"JPEG": encodeJPEG(t, picture()), "progressive": testdata(t, "progressive.jpg"), "PNG": encodePNG(t, picture()),
		"HEIC": reftest.HEIC(t, ".png", encodePNG(t, picture())),
	}
	var r Reader
	for range 2 {
		for name, data := range files {
			want := mustRead(t, data)
			for i := range r.room {
				r.room[i] = uint8(37 * i)
			}
			got, err := r.Read(data, Limits{})
			require.NoError(t, err, name)
			assert.Equal(t, want, got, name)
		}
	}
}
