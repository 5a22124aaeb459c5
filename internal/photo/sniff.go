package photo

import (
	"bytes"
	"fmt"

	"phototrack/internal/raster"
)

// header is what is known of a file before a single pixel is decoded.
type header struct {
	format        string
	width, height int    // as stored, px
	exif          []byte // TIFF structure of the EXIF data, nil where there is none
	icc           []byte // embedded ICC profile, nil where there is none
	iccFault      string // why an embedded profile could not be put together
	namedSpace    string // a colour space given by name instead of a profile, "" where there is none
	grey          bool   // one channel of colour
	turned        bool   // the decoder itself applies the file's rotation
	notes         []string
	unchecked     string // see Meta
	body          int    // where a JPEG's compressed data start, bytes
	costPerPx     int    // memory that decoding takes, bytes a pixel
	decode        func(data []byte, h *header, r *Reader) (raster.BGR, error)
}

// Sniff reads format and stored size from the header alone: nothing is decoded and nothing of the picture's size is
// allocated. Errors: ErrUnreadable, ErrUnknownFormat, and ErrTooLarge where a side is longer than any format's.
func Sniff(data []byte) (format string, widthPx, heightPx int, err error) {
	h, err := parse(data)
	if err != nil {
		return "", 0, 0, err
	}
	if h.width < 1 || h.height < 1 {
		return "", 0, 0, fmt.Errorf("%w: its size is %d x %d px", ErrUnreadable, h.width, h.height)
	}
	return h.format, h.width, h.height, nil
}

// parse reads the header of whatever the bytes are.
func parse(data []byte) (*header, error) {
	switch {
	case len(data) == 0:
		return nil, fmt.Errorf("%w: the file is empty", ErrUnreadable)
	case bytes.HasPrefix(data, []byte{0xFF, 0xD8}):
		return parseJPEG(data)
	case bytes.HasPrefix(data, []byte(pngMagic)):
		return parsePNG(data)
	case bytes.HasPrefix(data, []byte("II*\x00")), bytes.HasPrefix(data, []byte("MM\x00*")):
		return parseTIFF(data)
	case isWebP(data):
		return parseWebP(data)
	case isHEIC(data):
		return parseHEIC(data)
	}
	return nil, fmt.Errorf("%w: %s", ErrUnknownFormat, nameForeign(data))
}

// meta reads the EXIF data and what the container said beside it; where EXIF names the colour space, the header learns
// it.
func (h *header) meta() Meta {
	m := Meta{Format: h.format, Orientation: 1, Notes: h.notes, Unchecked: h.unchecked}
	if h.exif != nil {
		e, err := parseEXIF(h.exif)
		if err != nil {
			m.note("The photo's EXIF data are damaged: date and camera may be missing.")
		}
		m.readEXIF(e, h.width, h.height)
		if h.icc == nil && h.iccFault == "" && h.namedSpace == "" && e.adobeRGB() {
			h.namedSpace = spaceAdobeRGB
		}
	}
	if h.turned {
		m.Orientation = 1
	}
	return m
}
