package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	stdimage "image"

	"golang.org/x/image/tiff"

	"phototrack/internal/raster"
)

// TIFF tags that are read beside EXIF's (TIFF 6.0, section 8; DNG 1.6; ICC.1:2022, annex B.2).
const (
	tagNewSubfileType = 0x00FE
	tagImageWidth     = 0x0100
	tagImageLength    = 0x0101
	tagBitsPerSample  = 0x0102
	tagCompression    = 0x0103
	tagPhotometric    = 0x0106
	tagDNGVersion     = 0xC612
	tagICCProfile     = 0x8773
)

var tiffTags = map[uint16]int{tagNewSubfileType: 4, tagImageWidth: 4, tagImageLength: 4, tagBitsPerSample: 64, tagCompression: 2, tagPhotometric: 2, tagDNGVersion: 4,
	tagICCProfile: maxProfileBytes}

// uncheckedTIFF are the ways of packing (TIFF 6.0, sections 9 and 13) in which damage spreads and nothing tells of it. Without
// packing it stays where it is, and Deflate has a checksum.
var uncheckedTIFF = map[int64]string{5: "a TIFF packed by LZW", 32773: "a TIFF packed by PackBits"}

// parseTIFF reads the first directory. Size comes from the decoder's own reading, so that no second, larger size can
// hide from the limits.
func parseTIFF(data []byte) (*header, error) {
	damaged := fmt.Errorf("%w: the TIFF's directory is damaged or cut short", ErrUnreadable)
	order, offset, err := tiffOrder(data)
	if err != nil {
		return nil, damaged
	}
	d, err := readDirectory(data, order, offset, tiffTags)
	if err != nil {
		return nil, damaged
	}
	if kind, _ := d.integer(tagNewSubfileType, 0); kind&1 != 0 || d[tagDNGVersion] != nil || isCR2(data) {
		return nil, fmt.Errorf("%w: a camera's raw file", ErrUnknownFormat)
	}
	w, _ := d.integer(tagImageWidth, 0)
	l, _ := d.integer(tagImageLength, 0)
	if w > maxSide || l > maxSide {
		return nil, fmt.Errorf("%w: %d x %d px, the longest side is %d px", ErrTooLarge, w, l, maxSide)
	}
	c, err := tiffSize(data)
	if err != nil {
		return nil, err
	}
	h := &header{format: TIFF, decode: decodeTIFF, width: c.Width, height: c.Height, exif: data, costPerPx: 4 + 3}
	if bits, _ := d.integer(tagBitsPerSample, 0); bits > bitsOf8 {
		h.costPerPx = 8 + 3
	}
	if packed, _ := d.integer(tagCompression, 0); uncheckedTIFF[packed] != "" {
		h.unchecked = uncheckedTIFF[packed]
	}
	p, _ := d.integer(tagPhotometric, 0)
	h.grey = p == 0 || p == 1
	if t := d[tagICCProfile]; t != nil {
		h.icc = t.Val
	} else if hasTag(data, order, offset, tagICCProfile) {
		h.iccFault = "it lies outside the file or is too large"
	}
	return h, nil
}

// tiffSize is the picture's size as the decoder reads it.
func tiffSize(data []byte) (stdimage.Config, error) {
	c, err := contained(func() (stdimage.Config, error) { return tiff.DecodeConfig(bytes.NewReader(data)) })
	if err != nil {
		return c, tiffError(err)
	}
	if c.Width < 1 || c.Height < 1 {
		return c, fmt.Errorf("%w: the TIFF's size is %d x %d px", ErrUnreadable, c.Width, c.Height)
	}
	return c, nil
}

func isCR2(data []byte) bool { return len(data) > 10 && string(data[8:10]) == "CR" }

// hasTag says whether a directory names a tag at all, readable or not.
func hasTag(data []byte, order binary.ByteOrder, offset uint32, id uint16) bool {
	n := int64(order.Uint16(data[offset:]))
	for at := int64(offset) + 2; n > 0 && at+12 <= int64(len(data)); at, n = at+12, n-1 {
		if order.Uint16(data[at:]) == id {
			return true
		}
	}
	return false
}

// tiffError tells what the decoder does not know from what is damaged.
func tiffError(err error) error {
	var unsupported tiff.UnsupportedError
	if errors.As(err, &unsupported) {
		return fmt.Errorf("%w: a TIFF of a rare kind (%v)", ErrUnknownFormat, string(unsupported))
	}
	return fmt.Errorf("%w: %v", ErrUnreadable, err)
}

func decodeTIFF(data []byte, h *header, _ *Reader) (raster.BGR, error) {
	img, err := contained(func() (image, error) { return tiff.Decode(bytes.NewReader(data)) })
	if err != nil {
		return raster.BGR{}, tiffError(err)
	}
	return fromImage(img, h)
}
