package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"image/png"
	"io"

	"phototrack/internal/raster"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// Colour types of PNG (W3C PNG, 11.2.1).
const (
	pngGrey      = 0
	pngGreyAlpha = 4
)

// sRGBGamma is what a PNG without a profile has in its gAMA chunk when its tones are those of sRGB: 1/2.2 in 100000ths.
const sRGBGamma = 45455

// gammaRoom is how far a curve may be from that and still be taken for sRGB's without a word: 3 %, as programs round it (chosen by eye).
const gammaRoom = 1500

// pngDeep is the depth of channels of two bytes.
const pngDeep = 16

// parsePNG walks the chunks: size, profile, EXIF data (which may stand after the picture) and the end.
func parsePNG(data []byte) (*header, error) {
	h := &header{format: PNG, decode: decodePNG}
	var gamma uint32
	named := false
	for pos := len(pngMagic); ; {
		kind, chunk, next, err := pngChunk(data, pos)
		if err != nil {
			return nil, err
		}
		if (pos == len(pngMagic)) != (kind == "IHDR") {
			return nil, fmt.Errorf("%w: the PNG does not start with its size", ErrUnreadable)
		}
		switch kind {
		case "IHDR":
			if err := h.pngHeader(chunk); err != nil {
				return nil, err
			}
		case "iCCP":
			h.icc, h.iccFault = pngProfile(chunk)
			named = true
		case "sRGB":
			named = true
		case "gAMA":
			if len(chunk) == 4 {
				gamma = binary.BigEndian.Uint32(chunk)
			}
		case "eXIf":
			h.exif = bytes.TrimPrefix(chunk, exifTag)
		case "IEND":
			if !named && gamma != 0 && !nearSRGB(gamma) {
				h.notes = append(h.notes, fmt.Sprintf("The PNG names a tone curve that is not sRGB's (gamma %.3f); it was taken as sRGB.", float64(gamma)/100000))
			}
			return h, nil
		}
		pos = next
	}
}

// nearSRGB says whether a gAMA chunk's number is about sRGB's.
func nearSRGB(gamma uint32) bool { return gamma >= sRGBGamma-gammaRoom && gamma <= sRGBGamma+gammaRoom }

// pngChunk reads the chunk at pos. Its checksum is left to the decoder, which checks all of them.
func pngChunk(data []byte, pos int) (kind string, chunk []byte, next int, err error) {
	if pos+12 > len(data) {
		return "", nil, 0, fmt.Errorf("%w: the PNG is cut short after %d bytes", ErrUnreadable, len(data))
	}
	n := int64(binary.BigEndian.Uint32(data[pos:]))
	end := int64(pos) + 12 + n
	if end > int64(len(data)) {
		return "", nil, 0, fmt.Errorf("%w: the PNG is cut short after %d bytes", ErrUnreadable, len(data))
	}
	return string(data[pos+4 : pos+8]), data[pos+8 : end-4], int(end), nil
}

// pngHeader reads the IHDR chunk.
func (h *header) pngHeader(chunk []byte) error {
	if len(chunk) != 13 {
		return fmt.Errorf("%w: the PNG's header is damaged", ErrUnreadable)
	}
	w, hh := binary.BigEndian.Uint32(chunk), binary.BigEndian.Uint32(chunk[4:])
	if w == 0 || hh == 0 || w > 1<<31-1 || hh > 1<<31-1 {
		return fmt.Errorf("%w: the PNG's size is %d x %d px", ErrUnreadable, w, hh)
	}
	h.width, h.height = int(w), int(hh)
	h.grey = chunk[9] == pngGrey || chunk[9] == pngGreyAlpha
	h.costPerPx = 4 + 3
	if chunk[8] == pngDeep {
		h.costPerPx = 8 + 3
	}
	return nil
}

// pngProfile unpacks an iCCP chunk: a name, a zero, the method zero, a zlib stream.
func pngProfile(chunk []byte) (profile []byte, fault string) {
	i := bytes.IndexByte(chunk, 0)
	if i < 0 || i+2 > len(chunk) {
		return nil, "its chunk is damaged"
	}
	z, err := zlib.NewReader(bytes.NewReader(chunk[i+2:]))
	if err != nil {
		return nil, "it cannot be unpacked"
	}
	profile, err = io.ReadAll(io.LimitReader(z, maxProfileBytes+1))
	switch {
	case err != nil:
		return nil, "it cannot be unpacked"
	case len(profile) > maxProfileBytes:
		return nil, fmt.Sprintf("it has more than %d MB", maxProfileBytes>>20)
	}
	return profile, ""
}

func decodePNG(data []byte, h *header, _ *Reader) (raster.BGR, error) {
	img, err := contained(func() (image, error) { return png.Decode(bytes.NewReader(data)) })
	if err != nil {
		return raster.BGR{}, fmt.Errorf("%w: %v", ErrUnreadable, err)
	}
	return fromImage(img, h)
}
