package photo

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// EXIF tags that are read (CIPA DC-008, Exif 2.32). The position (GPS) directory is not among them: where a photo was
// taken is nobody's business here.
const (
	tagMake               = 0x010F
	tagModel              = 0x0110
	tagOrientation        = 0x0112
	tagExifDirectory      = 0x8769
	tagDateTimeOriginal   = 0x9003
	tagOffsetTimeOriginal = 0x9011
	tagFocalLength        = 0x920A
	tagColourSpace        = 0xA001
	tagPixelXDimension    = 0xA002
	tagPixelYDimension    = 0xA003
	tagInteropDirectory   = 0xA005
	tagFocalLength35mm    = 0xA405
	tagInteropIndex       = 0x0001
)

var (
	mainTags = map[uint16]int{tagMake: 1024, tagModel: 1024, tagOrientation: 4, tagExifDirectory: 4}
	exifTags = map[uint16]int{tagDateTimeOriginal: 64, tagOffsetTimeOriginal: 32, tagFocalLength: 8, tagColourSpace: 2,
		tagPixelXDimension: 4, tagPixelYDimension: 4, tagInteropDirectory: 4, tagFocalLength35mm: 2}
	interopTags = map[uint16]int{tagInteropIndex: 16}
)

// exifData is the two directories of EXIF data that matter, and the interoperability index.
type exifData struct {
	main, sub directory
	interop   string
}

// parseEXIF reads a TIFF structure; pointers are followed once each, so a loop of directories ends.
func parseEXIF(data []byte) (exifData, error) {
	order, offset, err := tiffOrder(data)
	if err != nil {
		return exifData{}, err
	}
	var e exifData
	if e.main, err = readDirectory(data, order, offset, mainTags); err != nil {
		return exifData{}, err
	}
	if at, ok := e.main.integer(tagExifDirectory, 0); ok {
		if e.sub, err = readDirectory(data, order, uint32(at), exifTags); err != nil {
			return e, err
		}
	}
	if at, ok := e.sub.integer(tagInteropDirectory, 0); ok {
		if d, err := readDirectory(data, order, uint32(at), interopTags); err == nil {
			e.interop = d.text(tagInteropIndex)
		}
	}
	return e, nil
}

// What is believed of what a camera wrote. Limits of focal lengths are chosen far outside of any lens (0.1 mm to 10 m; full frame 4 mm to
// 5 m); zones run from -12:00 to +14:00 (tz database).
const (
	leastFocalMM, mostFocalMM   = 0.1, 10000
	leastF35MM, mostF35MM       = 4, 5000
	mostCropped                 = 0.03   // of the sides' ratio, natural logarithm: rounding and a few lost rows stay below (chosen by eye)
	uncalibrated                = 0xFFFF // colour space of DCF 2.0
	mostRunes                   = 64     // of a camera's name
	mostMinute, mostZoneSeconds = 59, 14 * 3600
)

// readEXIF fills in what the EXIF data say; width and height are the stored picture's.
func (m *Meta) readEXIF(e exifData, width, height int) {
	if v, ok := e.main.integer(tagOrientation, 0); ok && v >= topLeft && v <= leftBottom {
		m.Orientation = int(v)
	}
	m.Camera = cameraName(e.main.text(tagMake), e.main.text(tagModel))
	m.Taken = stampOf(e.sub.text(tagDateTimeOriginal), e.sub.text(tagOffsetTimeOriginal))
	if m.Taken.IsZero() && e.sub.text(tagDateTimeOriginal) != "" {
		m.note("The date in the photo's EXIF data is no date.")
	}
	if v, ok := e.sub.rational(tagFocalLength); ok && v > leastFocalMM && v < mostFocalMM {
		m.FocalMM = v
	}
	if v, ok := e.sub.integer(tagFocalLength35mm, 0); ok && v >= leastF35MM && v <= mostF35MM {
		m.F35MM = float64(v)
	}
	if m.F35MM > 0 && e.cropped(width, height) {
		m.F35MM = 0
		m.note("The photo was cropped after it was taken: its focal length no longer holds and is not used.")
	}
}

// cropped says that the sides' ratio is not the one the camera wrote down, by more than rounding or a few lost rows.
func (e exifData) cropped(width, height int) bool {
	x, okX := e.sub.integer(tagPixelXDimension, 0)
	y, okY := e.sub.integer(tagPixelYDimension, 0)
	if !okX || !okY || x < 1 || y < 1 || width < 1 || height < 1 {
		return false
	}
	was := math.Abs(math.Log(float64(x) / float64(y)))
	is := math.Abs(math.Log(float64(width) / float64(height)))
	return math.Abs(was-is) > mostCropped
}

// adobeRGB says that the colours are Adobe RGB (1998) although no profile is embedded: the mark of cameras that follow
// DCF 2.0 (CIPA DC-009), colour space "uncalibrated" with interoperability index R03; some write 2 instead.
func (e exifData) adobeRGB() bool {
	v, ok := e.sub.integer(tagColourSpace, 0)
	return ok && (v == 2 || (v == uncalibrated && e.interop == "R03"))
}

// cameraName joins make and model; a model that starts with the make stands alone.
func cameraName(maker, model string) string {
	maker, model = clean(maker), clean(model)
	if first, _, _ := strings.Cut(maker, " "); first != "" && strings.HasPrefix(strings.ToLower(model), strings.ToLower(first)) {
		return model
	}
	return strings.TrimSpace(maker + " " + model)
}

// clean takes control characters out of text from outside and bounds its length.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == unicode.ReplacementChar || !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	if r := []rune(s); len(r) > mostRunes {
		s = string(r[:mostRunes])
	}
	return strings.TrimSpace(s)
}

// firstYear is the earliest year a date is believed.
const firstYear = gate.FirstYear

var offsetForm = regexp.MustCompile(`^([+-])(\d\d):(\d\d)$`)

// stampOf reads "2026:05:14 09:30:00" and "+02:00"; blank or impossible dates give no stamp, offsets none.
func stampOf(date, offset string) record.Stamp {
	date = strings.TrimSpace(date)
	t, err := time.Parse("2006:01:02 15:04:05", date)
	if err != nil {
		t, err = time.Parse("2006-01-02 15:04:05", date) // some programs write the date the ISO way
	}
	if err != nil || t.Year() < firstYear {
		return record.Stamp{}
	}
	zone, ok := zoneOf(strings.TrimSpace(offset))
	if ok {
		t = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, zone)
	}
	return record.Stamp{Time: t, HasOffset: ok, Source: "exif"}
}

// zoneOf reads an offset from UTC; the world's zones run from -12:00 to +14:00.
func zoneOf(s string) (*time.Location, bool) {
	m := offsetForm.FindStringSubmatch(s)
	if m == nil {
		return nil, false
	}
	hours, _ := strconv.Atoi(m[2])
	minutes, _ := strconv.Atoi(m[3])
	seconds := 3600*hours + 60*minutes
	if minutes > mostMinute || seconds > mostZoneSeconds {
		return nil, false
	}
	if seconds == 0 {
		return time.UTC, true
	}
	if m[1] == "-" {
		seconds = -seconds
	}
	return time.FixedZone("", seconds), true
}
