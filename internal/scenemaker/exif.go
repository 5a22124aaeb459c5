package scenemaker

import (
	"encoding/binary"
	"errors"
	"time"
)

// Tags of Exif 2.32 (CIPA DC-008) that a phone writes and the program reads.
const (
	tagMake       = 0x010F
	tagModel      = 0x0110
	tagExif       = 0x8769
	tagDate       = 0x9003
	tagOffset     = 0x9011
	tagFocal35mm  = 0xA405
	exifASCII     = 2
	exifShort     = 3
	exifLong      = 4
	exifEntrySize = 12
)

// tag is one entry of a directory of a TIFF structure.
type tag struct {
	id, kind uint16
	count    uint32
	value    []byte // little-endian; more than four bytes are laid behind the directory
}

func text(id uint16, s string) tag {
	return tag{id, exifASCII, uint32(len(s) + 1), append([]byte(s), 0)}
}

func short(id uint16, v uint16) tag {
	return tag{id, exifShort, 1, binary.LittleEndian.AppendUint16(nil, v)}
}

// directory is a TIFF directory that will stand at the offset at, with its values behind it.
func directory(at int, tags []tag) []byte {
	le := binary.LittleEndian
	head := le.AppendUint16(nil, uint16(len(tags)))
	behind := at + 2 + exifEntrySize*len(tags) + 4
	var values []byte
	for _, t := range tags {
		head = le.AppendUint16(head, t.id)
		head = le.AppendUint16(head, t.kind)
		head = le.AppendUint32(head, t.count)
		if len(t.value) <= 4 {
			head = append(append(head, t.value...), make([]byte, 4-len(t.value))...)
			continue
		}
		head = le.AppendUint32(head, uint32(behind+len(values)))
		values = append(values, t.value...)
	}
	return append(le.AppendUint32(head, 0), values...)
}

// WithEXIF puts the camera's name, the date and the focal length's 35 mm equivalent into a JPEG.
func WithEXIF(jpeg []byte, taken time.Time, f35 int) ([]byte, error) {
	if len(jpeg) < 2 || jpeg[0] != 0xFF || jpeg[1] != 0xD8 {
		return nil, errors.New("no JPEG")
	}
	const header = 8
	main := []tag{text(tagMake, "Scene"), text(tagModel, "Maker 1"), {tagExif, exifLong, 1, make([]byte, 4)}}
	own := []tag{text(tagDate, taken.Format("2006:01:02 15:04:05")), text(tagOffset, taken.Format("-07:00")), short(tagFocal35mm, uint16(f35))}
	second := header + len(directory(header, main))
	binary.LittleEndian.PutUint32(main[2].value, uint32(second))
	tiff := append([]byte("II*\x00\x08\x00\x00\x00"), directory(header, main)...)
	tiff = append(tiff, directory(second, own)...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	out := []byte{0xFF, 0xD8, 0xFF, 0xE1}
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	out = append(out, body...)
	return append(out, jpeg[2:]...), nil
}
