package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"phototrack/internal/codec"
	"phototrack/internal/raster"
)

// JPEG markers (ITU-T T.81, table B.1).
const (
	jpegSOF0  = 0xC0 // baseline
	jpegSOF1  = 0xC1 // extended sequential
	jpegSOF2  = 0xC2 // progressive
	jpegSOF15 = 0xCF
	jpegDHT   = 0xC4
	jpegJPG   = 0xC8
	jpegDAC   = 0xCC
	jpegRST0  = 0xD0
	jpegRST7  = 0xD7
	jpegSOI   = 0xD8
	jpegEOI   = 0xD9
	jpegSOS   = 0xDA
	jpegTEM   = 0x01
	jpegMark  = 0xFF // every marker begins with it
	jpegAPP1  = 0xE1
	jpegAPP2  = 0xE2
)

// maxJPEGScans bounds the passes of a progressive file: cameras write about ten, a file made to burn time thousands.
const maxJPEGScans = 100

// maxStrayBytes is how many bytes between a JPEG's parts pass for padding. Where a stretch of the compressed data is
// damaged and the rest falls into step again, tens to thousands are left over.
const maxStrayBytes = 16

var (
	exifTag = []byte("Exif\x00\x00")
	iccTag  = []byte("ICC_PROFILE\x00")
)

// parseJPEG walks the segments up to the first scan.
func parseJPEG(data []byte) (*header, error) {
	h := &header{format: JPEG, decode: decodeJPEG, costPerPx: 3}
	var icc iccParts
	for pos := 2; ; {
		marker, seg, next, err := jpegSegment(data, pos)
		if err != nil {
			return nil, err
		}
		switch {
		case marker == jpegEOI:
			return nil, fmt.Errorf("%w: the JPEG ends before its picture starts", ErrUnreadable)
		case marker == jpegSOS:
			if h.width == 0 {
				return nil, fmt.Errorf("%w: the JPEG's picture starts before its size is given", ErrUnreadable)
			}
			h.body = pos
			h.icc, h.iccFault = icc.join()
			return h, nil
		case isSOF(marker):
			if err := h.jpegFrame(marker, seg); err != nil {
				return nil, err
			}
		case marker == jpegAPP1 && bytes.HasPrefix(seg, exifTag) && h.exif == nil:
			h.exif = seg[len(exifTag):]
		case marker == jpegAPP2 && bytes.HasPrefix(seg, iccTag):
			icc.add(seg[len(iccTag):])
		}
		pos = next
	}
}

// isSOF says whether the marker starts a frame: 0xC0 to 0xCF without the three that are tables.
func isSOF(marker byte) bool {
	return marker >= jpegSOF0 && marker <= jpegSOF15 && marker != jpegDHT && marker != jpegJPG && marker != jpegDAC
}

// jpegSegment reads the marker at or after pos and the segment's content; next is where the following marker is due.
func jpegSegment(data []byte, pos int) (marker byte, seg []byte, next int, err error) {
	cut := fmt.Errorf("%w: the JPEG is cut short after %d bytes", ErrUnreadable, len(data))
	if pos >= len(data) {
		return 0, nil, 0, cut
	}
	if data[pos] != jpegMark {
		return 0, nil, 0, fmt.Errorf("%w: the JPEG is damaged at byte %d", ErrUnreadable, pos)
	}
	for pos < len(data) && data[pos] == jpegMark {
		pos++
	}
	if pos >= len(data) {
		return 0, nil, 0, cut
	}
	marker = data[pos]
	pos++
	if marker == jpegEOI || marker == jpegTEM || marker == jpegSOI || (marker >= jpegRST0 && marker <= jpegRST7) {
		return marker, nil, pos, nil
	}
	if marker == 0 {
		return 0, nil, 0, fmt.Errorf("%w: the JPEG is damaged at byte %d", ErrUnreadable, pos)
	}
	if pos+2 > len(data) {
		return 0, nil, 0, cut
	}
	n := int(binary.BigEndian.Uint16(data[pos:]))
	if n < 2 {
		return 0, nil, 0, fmt.Errorf("%w: the JPEG is damaged at byte %d", ErrUnreadable, pos)
	}
	if pos+n > len(data) {
		return 0, nil, 0, cut
	}
	return marker, data[pos+2 : pos+n], pos + n, nil
}

// Samples and channels of a frame (T.81, B.2.2; JFIF).
const (
	bitsOf8        = 8
	channelsGrey   = 1
	channelsColour = 3
	channelsCMYK   = 4
)

// jpegFrame reads a frame header (T.81, B.2.2) and refuses the kinds whose colours are not those of a photo.
func (h *header) jpegFrame(marker byte, seg []byte) error {
	if len(seg) < 6 || len(seg) < 6+3*int(seg[5]) {
		return fmt.Errorf("%w: the JPEG's frame header is damaged", ErrUnreadable)
	}
	if h.width != 0 {
		return fmt.Errorf("%w: the JPEG has two frame headers", ErrUnreadable)
	}
	bits, components := seg[0], seg[5]
	h.height = int(binary.BigEndian.Uint16(seg[1:]))
	h.width = int(binary.BigEndian.Uint16(seg[3:]))
	h.grey = components == 1
	if marker == jpegSOF2 {
		h.costPerPx += 2 * int(components) // the coefficients of all passes are kept
	}
	switch {
	case marker > jpegSOF2:
		return fmt.Errorf("%w: a lossless, hierarchical or arithmetic-coded JPEG (kind %d)", ErrUnknownFormat, marker-jpegSOF0)
	case bits != bitsOf8:
		return fmt.Errorf("%w: a JPEG with %d bits a channel", ErrUnknownFormat, bits)
	case components == channelsCMYK:
		return fmt.Errorf("%w: a CMYK JPEG, in the colours of a printing press; save it as RGB", ErrUnknownFormat)
	case components != channelsGrey && components != channelsColour:
		return fmt.Errorf("%w: a JPEG with %d channels", ErrUnknownFormat, components)
	case h.width == 0 || h.height == 0:
		return fmt.Errorf("%w: the JPEG's size is %d x %d px", ErrUnreadable, h.width, h.height)
	}
	return nil
}

// jpegComplete walks the compressed data to the end marker. A decoder fills what is missing with grey and reports
// success, so a file that was cut short must be told here.
func jpegComplete(data []byte, pos int) error {
	for scans := 0; ; {
		marker, _, next, err := jpegSegment(data, pos)
		switch {
		case err != nil:
			return err
		case marker == jpegEOI:
			return nil
		case marker == jpegSOS:
			if scans++; scans > maxJPEGScans {
				return fmt.Errorf("%w: the JPEG has more than %d passes", ErrUnreadable, maxJPEGScans)
			}
			end := skipEntropyCoded(data, next)
			if at := lostSector(data, next, end); at >= 0 {
				return fmt.Errorf("%w: the JPEG has lost data from byte %d on, as after a failed copy", ErrUnreadable, at)
			}
			next = end
		}
		pos = next
	}
}

// skipEntropyCoded finds the marker that ends a scan: 0xFF followed by neither a stuffed zero nor a restart marker.
func skipEntropyCoded(data []byte, pos int) int {
	for {
		i := bytes.IndexByte(data[pos:], jpegMark)
		if i < 0 || pos+i+1 >= len(data) {
			return len(data)
		}
		pos += i
		if m := data[pos+1]; m != 0 && (m < jpegRST0 || m > jpegRST7) {
			return pos
		}
		pos += 2
	}
}

func decodeJPEG(data []byte, h *header, r *Reader) (raster.BGR, error) {
	if err := jpegComplete(data, h.body); err != nil {
		return raster.BGR{}, err
	}
	img := r.picture(h)
	stray, err := codec.JPEG(data, img)
	if err != nil {
		return raster.BGR{}, fmt.Errorf("%w: %v", ErrUnreadable, err)
	}
	if stray > maxStrayBytes {
		return raster.BGR{}, fmt.Errorf("%w: the JPEG holds %d bytes that belong to nothing, as after damage", ErrUnreadable, stray)
	}
	return img, nil
}
