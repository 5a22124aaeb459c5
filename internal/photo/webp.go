package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"phototrack/internal/codec"
	"phototrack/internal/raster"
)

func isWebP(data []byte) bool {
	return len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP"
}

// parseWebP walks the RIFF chunks (WebP container specification).
func parseWebP(data []byte) (*header, error) {
	end := int64(binary.LittleEndian.Uint32(data[4:])) + 8
	if end > int64(len(data)) {
		return nil, fmt.Errorf("%w: the WebP is cut short after %d of %d bytes", ErrUnreadable, len(data), end)
	}
	if at := lostSector(data, 12, int(end)); at >= 0 {
		return nil, fmt.Errorf("%w: the WebP has lost data from byte %d on, as after a failed copy", ErrUnreadable, at)
	}
	info, err := codec.ReadWebPInfo(data[:end])
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrUnreadable, err)
	}
	if info.Moving {
		return nil, fmt.Errorf("%w: a moving WebP", ErrUnknownFormat)
	}
	h := &header{format: WebP, width: info.W, height: info.H, costPerPx: 4 + 3 + 3}
	if info.Alpha {
		h.costPerPx = 4 + 4 + 3 + 3
	}
	h.decode = func(data []byte, h *header, r *Reader) (raster.BGR, error) {
		img := r.picture(h)
		if err := codec.WebP(data[:end], img, info.Alpha); err != nil {
			return raster.BGR{}, fmt.Errorf("%w: %v", ErrUnreadable, err)
		}
		if short := withoutTail(data[:end]); short != nil && codec.WebP(short, raster.NewBGR(img.W, img.H), info.Alpha) == nil {
			return raster.BGR{}, fmt.Errorf("%w: the WebP's picture is complete before its data end, so they are damaged somewhere", ErrUnreadable)
		}
		return img, nil
	}
	h.webpChunks(data[:end])
	if _, kind := pictureChunk(data[:end]); kind == losslessWebP {
		h.unchecked = "a WebP of the lossless kind"
	}
	return h, nil
}

// webpChunks takes the profile and the EXIF data; some programs write the JPEG tag before the latter.
func (h *header) webpChunks(data []byte) {
	for pos := int64(12); pos+8 <= int64(len(data)); {
		n := int64(binary.LittleEndian.Uint32(data[pos+4:]))
		if pos+8+n > int64(len(data)) {
			return
		}
		chunk := data[pos+8 : pos+8+n]
		switch string(data[pos : pos+4]) {
		case "ICCP":
			if h.icc = chunk; len(chunk) > maxProfileBytes {
				h.icc, h.iccFault = nil, fmt.Sprintf("it has more than %d MB", maxProfileBytes>>20)
			}
		case "EXIF":
			h.exif = bytes.TrimPrefix(chunk, exifTag)
		}
		pos += 8 + n + n&1
	}
}

// The chunks that hold a picture of the lossy and of the lossless kind.
const (
	lossyWebP    = "VP8 "
	losslessWebP = "VP8L"
)

// pictureChunk finds the chunk that holds the picture; kind is "" where there is none.
func pictureChunk(data []byte) (at int64, kind string) {
	for pos := int64(12); pos+8 <= int64(len(data)); {
		n := int64(binary.LittleEndian.Uint32(data[pos+4:]))
		if pos+8+n > int64(len(data)) {
			break
		}
		if kind := string(data[pos : pos+4]); kind == lossyWebP || kind == losslessWebP {
			return pos, kind
		}
		pos += 8 + n + n&1
	}
	return 0, ""
}

// tailBytes is how much withoutTail takes away: an encoder rounds its last bits up, and a decoder need not see the last two
// bytes of some sound files; the rest is margin, so that none of them is refused.
const tailBytes = 8

// leastWithTail is the size in bytes below which a picture is too small to be tried again without its tail (chosen by eye).
const leastWithTail = 100

// withoutTail is a WebP whose picture data lack their last bytes, nil where they are too short for that. The data of the lossy
// kind are one arithmetic code (RFC 6386, section 7), those of the lossless kind codes of different lengths (RFC 9649, section
// 3): from a flipped bit on, all or some is decoded otherwise, and the picture is done before the data are, or the data before
// the picture. Sound data are needed to the end. (Codes of different lengths fall into step again, often with the same number
// of pixels: for the lossless kind this sees one flipped bit in eight.)
func withoutTail(data []byte) []byte {
	pos, kind := pictureChunk(data)
	n := int64(binary.LittleEndian.Uint32(data[pos+4:]))
	if kind == "" || n <= leastWithTail {
		return nil
	}
	n -= tailBytes
	out := bytes.Clone(data[:pos+8+n])
	binary.LittleEndian.PutUint32(out[pos+4:], uint32(n))
	if len(out)%2 == 1 {
		out = append(out, 0)
	}
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out
}
