package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/rwcarlsen/goexif/tiff"
)

var errIFD = errors.New("damaged directory")

// directory is the wanted tags of one image file directory (TIFF 6.0, section 2).
type directory map[uint16]*tiff.Tag

// tiffOrder reads the eight bytes at the start of a TIFF structure: byte order, 42, offset of the first directory.
func tiffOrder(data []byte) (binary.ByteOrder, uint32, error) {
	if len(data) < 8 {
		return nil, 0, fmt.Errorf("%w: %d bytes", errIFD, len(data))
	}
	var order binary.ByteOrder
	switch string(data[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return nil, 0, fmt.Errorf("%w: no TIFF header", errIFD)
	}
	return order, order.Uint32(data[4:]), nil
}

// readDirectory reads the wanted tags of the directory at offset; limits gives each its largest number of bytes.
//
// The library's own walk over a directory gives up at the first odd tag, follows pointers in circles and trusts counts
// (a count whose size overflows 32 bits makes it ask for gigabytes). So the walk is done here, only tags that are
// wanted and that fit into the data are handed over, one at a time, and no pointer is followed.
func readDirectory(data []byte, order binary.ByteOrder, offset uint32, limits map[uint16]int) (directory, error) {
	if int64(offset)+2 > int64(len(data)) {
		return nil, fmt.Errorf("%w: it lies beyond the end", errIFD)
	}
	n := int(order.Uint16(data[offset:]))
	d := directory{}
	for i := range n {
		at := int64(offset) + 2 + 12*int64(i)
		if at+12 > int64(len(data)) {
			break // a directory that is cut short still has its first tags
		}
		entry := data[at : at+12]
		limit, wanted := limits[order.Uint16(entry)]
		if !wanted || d[order.Uint16(entry)] != nil || !fits(data, order, entry, limit) {
			continue
		}
		if t := decodeTag(data, at, order); t != nil {
			d[t.Id] = t
		}
	}
	return d, nil
}

// tagBytes is the size of one value of each type, by the type's number (TIFF 6.0, section 2).
var tagBytes = [13]int64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8}

// inPlace is how many bytes of a value stand in the entry itself (TIFF 6.0, section 2).
const inPlace = 4

// fits says whether an entry's values have a known type, are no more than limit bytes and lie within the data.
func fits(data []byte, order binary.ByteOrder, entry []byte, limit int) bool {
	kind, count := order.Uint16(entry[2:]), int64(order.Uint32(entry[4:]))
	if kind == 0 || int(kind) >= len(tagBytes) || count == 0 {
		return false
	}
	size := tagBytes[kind] * count
	if size > int64(limit) {
		return false
	}
	return size <= inPlace || int64(order.Uint32(entry[8:]))+size <= int64(len(data))
}

// decodeTag hands one entry to the library; nil where it fails or panics.
func decodeTag(data []byte, at int64, order binary.ByteOrder) (t *tiff.Tag) {
	defer func() {
		if recover() != nil {
			t = nil
		}
	}()
	r := bytes.NewReader(data)
	if _, err := r.Seek(at, 0); err != nil {
		return nil
	}
	t, err := tiff.DecodeTag(r, order)
	if err != nil {
		return nil
	}
	return t
}

// integer gives a tag's i-th whole number.
func (d directory) integer(id uint16, i int) (int64, bool) {
	t := d[id]
	if t == nil || t.Format() != tiff.IntVal || i >= int(t.Count) {
		return 0, false
	}
	v, err := t.Int64(i)
	return v, err == nil
}

// rational gives a tag's first ratio.
func (d directory) rational(id uint16) (float64, bool) {
	t := d[id]
	if t == nil || t.Format() != tiff.RatVal {
		return 0, false
	}
	num, den, err := t.Rat2(0)
	if err != nil || den == 0 {
		return 0, false
	}
	return float64(num) / float64(den), true
}

// text gives a tag's characters up to the first NUL.
func (d directory) text(id uint16) string {
	t := d[id]
	if t == nil || t.Format() != tiff.StringVal {
		return ""
	}
	s, err := t.StringVal()
	if err != nil {
		return ""
	}
	return s
}
