package photo

import (
	"encoding/binary"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// entry is one tag of a test directory. A value of more than four bytes is laid behind the directories.
type entry struct {
	id, kind uint16
	count    uint32
	value    []byte // as stored, in the byte order of the structure
	sub      []entry
}

// tiffBytes lays out directories: header, first directory, its values, then each sub-directory in turn.
func tiffBytes(order binary.ByteOrder, dir []entry) []byte {
	out := []byte("II*\x00\x08\x00\x00\x00")
	if order == binary.BigEndian {
		out = []byte("MM\x00*\x00\x00\x00\x08")
	}
	return appendDir(out, order, dir)
}

func appendDir(out []byte, order binary.ByteOrder, dir []entry) []byte {
	start := len(out)
	out = append(out, make([]byte, 2+12*len(dir)+4)...)
	order.PutUint16(out[start:], uint16(len(dir)))
	for i, e := range dir {
		at := start + 2 + 12*i
		order.PutUint16(out[at:], e.id)
		order.PutUint16(out[at+2:], e.kind)
		order.PutUint32(out[at+4:], e.count)
		switch {
		case e.sub != nil:
			order.PutUint32(out[at+8:], uint32(len(out)))
			out = appendDir(out, order, e.sub)
		case len(e.value) <= 4:
			copy(out[at+8:], e.value)
		default:
			order.PutUint32(out[at+8:], uint32(len(out)))
			out = append(out, e.value...)
		}
	}
	return out
}

func ascii(id uint16, s string) entry {
	return entry{id: id, kind: 2, count: uint32(len(s) + 1), value: append([]byte(s), 0)}
}

func bytesOf(order binary.ByteOrder, v any) []byte {
	b, err := binary.Append(nil, order, v)
	if err != nil {
		panic(err)
	}
	return b
}

func short(order binary.ByteOrder, id uint16, v uint16) entry {
	return entry{id: id, kind: 3, count: 1, value: bytesOf(order, v)}
}

func ratio(order binary.ByteOrder, id uint16, num, den uint32) entry {
	return entry{id: id, kind: 5, count: 1, value: bytesOf(order, [2]uint32{num, den})}
}

func pointer(id uint16, dir ...entry) entry { return entry{id: id, kind: 4, count: 1, sub: dir} }

// phoneEXIF is what a phone writes, with a position that must never be read.
func phoneEXIF(order binary.ByteOrder, orientation uint16, date, offset string) []byte {
	return tiffBytes(order, []entry{
		ascii(tagMake, "Maker"), ascii(tagModel, "Phone 9"), short(order, tagOrientation, orientation),
		pointer(tagExifDirectory, ascii(tagDateTimeOriginal, date), ascii(tagOffsetTimeOriginal, offset),
			ratio(order, tagFocalLength, 5960, 1000), short(order, tagFocalLength35mm, 26)),
		pointer(0x8825, ascii(1, "N"), ratio(order, 2, 51, 1)),
	})
}

func metaOf(exif []byte) Meta {
	h := &header{format: JPEG, exif: exif, width: 40, height: 30}
	return h.meta()
}

func TestEXIFInBothByteOrders(t *testing.T) {
	for name, order := range map[string]binary.ByteOrder{"little": binary.LittleEndian, "big": binary.BigEndian} {
		t.Run(name, func(t *testing.T) {
			m := metaOf(phoneEXIF(order, 6, "2026:05:14 09:30:00", "+02:00"))
			assert.Equal(t, "2026-05-14T09:30:00+02:00", m.Taken.String())
			assert.Equal(t, "exif", m.Taken.Source)
			assert.Equal(t, "Maker Phone 9", m.Camera)
			assert.Equal(t, 26.0, m.F35MM)
			assert.InDelta(t, 5.96, m.FocalMM, 1e-9)
			assert.Equal(t, 6, m.Orientation)
			assert.Empty(t, m.Notes)
		})
	}
}

func TestDates(t *testing.T) {
	cases := []struct{ name, date, offset, want string }{
		{"with offset", "2026:05:14 09:30:00", "+02:00", "2026-05-14T09:30:00+02:00"},
		{"west", "2026:05:14 23:30:00", "-09:30", "2026-05-14T23:30:00-09:30"},
		{"at Greenwich", "2026:05:14 09:30:00", "+00:00", "2026-05-14T09:30:00Z"},
		{"without offset", "2026:05:14 09:30:00", "", "2026-05-14T09:30:00"},
		{"blank offset", "2026:05:14 09:30:00", "   :  ", "2026-05-14T09:30:00"},
		{"offset beyond the world", "2026:05:14 09:30:00", "+15:00", "2026-05-14T09:30:00"},
		{"ISO dashes", "2026-05-14 09:30:00", "", "2026-05-14T09:30:00"},
		{"zeros", "0000:00:00 00:00:00", "", ""},
		{"blanks", "    :  :     :  :  ", "", ""},
		{"no such day", "2026:02:30 09:30:00", "", ""},
		{"clock never set", "1970:01:01 00:00:00", "", ""},
		{"date alone", "2026:05:14", "", ""},
		{"words", "yesterday", "", ""},
		{"empty", "", "", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, stampOf(c.date, c.offset).String())
		})
	}
}

// TestLocalDayIsTheCameras keeps an evening photo on its day, whatever the zone.
func TestLocalDayIsTheCameras(t *testing.T) {
	s := stampOf("2026:05:14 23:30:00", "-09:30")
	assert.Equal(t, "2026-05-14", s.Day())
	assert.True(t, s.Time.Equal(time.Date(2026, 5, 15, 9, 0, 0, 0, time.UTC)))
}

func TestImpossibleDateIsTold(t *testing.T) {
	m := metaOf(phoneEXIF(binary.LittleEndian, 1, "0000:00:00 00:00:00", ""))
	assert.True(t, m.Taken.IsZero())
	assert.Len(t, m.Notes, 1)
}

func TestCameraNames(t *testing.T) {
	cases := []struct{ name, maker, model, want string }{
		{"both", "Maker", "Phone 9", "Maker Phone 9"},
		{"make repeated", "CANON Inc.", "Canon 5", "Canon 5"},
		{"model alone", "", "Phone 9", "Phone 9"},
		{"none", "", "", ""},
		{"control characters", "Ma\x1b[31mker\n", "P\x00", "Ma[31mker P"},
		{"not UTF-8", "Ma\xffker", "9", "Maker 9"},
		{"right to left override", "Ma\u202eker", "9", "Maker 9"},
		{"endless", strings.Repeat("x", 900), "", strings.Repeat("x", 64)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, cameraName(c.maker, c.model)) })
	}
}

func TestCroppedPhotoLosesItsFocalLength(t *testing.T) {
	exif := func(x, y uint16) []byte {
		return tiffBytes(le, []entry{pointer(tagExifDirectory, short(le, tagFocalLength35mm, 26),
			short(le, tagPixelXDimension, x), short(le, tagPixelYDimension, y))})
	}
	assert.Equal(t, 26.0, metaOf(exif(4000, 3000)).F35MM, "same shape, made smaller")
	assert.Equal(t, 26.0, metaOf(exif(3000, 4000)).F35MM, "same shape, turned")
	m := metaOf(exif(4000, 2250))
	assert.Zero(t, m.F35MM)
	assert.Len(t, m.Notes, 1)
}

func TestAdobeRGBByName(t *testing.T) {
	cases := []struct {
		name  string
		space uint16
		index string
		want  bool
	}{
		{"DCF optional file", 0xFFFF, "R03", true},
		{"uncalibrated", 0xFFFF, "R98", false},
		{"sRGB", 1, "R98", false},
		{"written as 2", 2, "", true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			e, err := parseEXIF(tiffBytes(le, []entry{pointer(tagExifDirectory, short(le, tagColourSpace, c.space),
				pointer(tagInteropDirectory, ascii(tagInteropIndex, c.index)))}))
			require.NoError(t, err)
			assert.Equal(t, c.want, e.adobeRGB())
		})
	}
}

// TestHostileEXIF holds structures made to make a reader loop, ask for gigabytes or fall over.
func TestHostileEXIF(t *testing.T) {
	loop := tiffBytes(le, []entry{pointer(tagExifDirectory, ascii(tagDateTimeOriginal, "2026:05:14 09:30:00"),
		pointer(tagInteropDirectory))})
	le.PutUint32(loop[8+2+8:], 8) // the EXIF directory is the main one
	cases := map[string][]byte{
		"empty":              {},
		"cut in the header":  []byte("II*"),
		"no such order":      []byte("XX*\x00\x08\x00\x00\x00"),
		"directory far away": []byte("II*\x00\xff\xff\xff\xff"),
		"loop":               loop,
		"65535 tags":         append([]byte("II*\x00\x08\x00\x00\x00\xff\xff"), make([]byte, 100)...),
		"count that overflows": tiffBytes(le, []entry{pointer(tagExifDirectory,
			entry{id: tagFocalLength, kind: 5, count: 0x20000001, value: make([]byte, 8)})}),
		"huge count":      tiffBytes(le, []entry{{id: tagMake, kind: 2, count: 0xFFFFFFFF, value: []byte("abcd")}}),
		"zero count":      tiffBytes(le, []entry{{id: tagOrientation, kind: 3, count: 0, value: []byte{6, 0}}}),
		"unknown type":    tiffBytes(le, []entry{{id: tagOrientation, kind: 99, count: 1, value: []byte{6, 0}}}),
		"orientation 9":   tiffBytes(le, []entry{short(le, tagOrientation, 9)}),
		"ratio over zero": tiffBytes(le, []entry{pointer(tagExifDirectory, ratio(le, tagFocalLength, 5, 0))}),
		"text as number":  tiffBytes(le, []entry{ascii(tagOrientation, "6"), short(le, tagMake, 7)}),
	}
	for name, data := range cases {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			m := metaOf(data)
			runtime.ReadMemStats(&after)
			assert.Equal(t, 1, m.Orientation)
			assert.Zero(t, m.FocalMM)
			assert.Empty(t, m.Camera)
			assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))
		})
	}
}

// TestOddTagDoesNotCostTheDate keeps what is good when a neighbour is not.
func TestOddTagDoesNotCostTheDate(t *testing.T) {
	m := metaOf(tiffBytes(le, []entry{{id: 0x9999, kind: 129, count: 3, value: []byte("abc")},
		pointer(tagExifDirectory, entry{id: 0x8888, kind: 0, count: 0}, ascii(tagDateTimeOriginal, "2026:05:14 09:30:00"))}))
	assert.Equal(t, "2026-05-14", m.Taken.Day())
}

// FuzzEXIF reads any bytes as EXIF data.
func FuzzEXIF(f *testing.F) {
	f.Add(phoneEXIF(binary.LittleEndian, 6, "2026:05:14 09:30:00", "+02:00"))
	f.Add(phoneEXIF(binary.BigEndian, 8, "2026:05:14 09:30:00", "-11:00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m := metaOf(data)
		if m.Orientation < 1 || m.Orientation > 8 || m.FocalMM < 0 || m.F35MM < 0 {
			t.Fatalf("%+v", m)
		}
		if m.Taken.Source != "" && m.Taken.Time.Year() < firstYear {
			t.Fatalf("date %v", m.Taken)
		}
		if clean(m.Camera) != m.Camera && len(m.Camera) < 64 {
			t.Fatalf("camera %q", m.Camera)
		}
	})
}
