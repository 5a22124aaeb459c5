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
	turned        bool   // the decoder itself applies the file's rotation
	orientation   int    // from the container rather than from EXIF, 0 where it says nothing
	notes         []string
	body          int // where the compressed data start, bytes
	decode        func(data []byte, h *header) (raster.BGR, error)
}

// Sniff reads format and stored size from the header alone: nothing is decoded and nothing of the picture's size is
// allocated. Errors: ErrUnreadable, ErrUnknownFormat.
func Sniff(data []byte) (format string, widthPx, heightPx int, err error) {
	h, err := parse(data)
	if err != nil {
		return "", 0, 0, err
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
	}
	return nil, fmt.Errorf("%w: %s", ErrUnknownFormat, nameForeign(data))
}

// meta reads the EXIF data and what the container said beside it.
func (h *header) meta() Meta {
	m := Meta{Format: h.format, Orientation: 1, Notes: h.notes}
	if h.exif != nil {
		m.readEXIF(h.exif, h.width, h.height)
	}
	if h.orientation != 0 {
		m.Orientation = h.orientation
	}
	if h.turned {
		m.Orientation = 1
	}
	return m
}
