package photo

import (
	"encoding/binary"
	"fmt"

	"phototrack/internal/codec"
	"phototrack/internal/raster"
)

// heicBrands are the brands of ISO/IEC 23008-12 whose pictures are coded in HEVC.
var heicBrands = map[string]bool{"heic": true, "heix": true, "heim": true, "heis": true, "hevc": true, "hevx": true, "hevm": true, "hevs": true}

// Boxes of ISO/IEC 14496-12, 4.2: four bytes of size, four of kind, eight more of size where the first says so. Brands have four bytes; of a
// longer list than mostBrands bytes no more is read.
const (
	boxHead, longBoxHead = 8, 16
	brandBytes           = 4
	mostBrands           = 4096
)

// isHEIC says whether the first box names an HEVC brand, as its own or among those it is compatible with.
func isHEIC(data []byte) bool {
	if len(data) < 16 || string(data[4:8]) != "ftyp" {
		return false
	}
	major := string(data[8:12])
	if heicBrands[major] {
		return true
	}
	if major != "mif1" && major != "msf1" {
		return false
	}
	end := min(int64(binary.BigEndian.Uint32(data)), int64(len(data)), mostBrands)
	for at := int64(16); at+brandBytes <= end; at += brandBytes {
		if heicBrands[string(data[at:at+brandBytes])] {
			return true
		}
	}
	return false
}

// Code points of ITU-T H.273 for the colours of a HEIC file without an ICC profile.
const (
	primariesP3 = 12
	transferPQ  = 16
	transferHLG = 18
)

// primariesSRGB are those that are, or are taken as, sRGB's: BT.709, unspecified, and the two of standard television.
var primariesSRGB = map[int]bool{1: true, 2: true, 5: true, 6: true}

// parseHEIC checks that no box ends beyond the file and asks the library for size, profile and EXIF data.
func parseHEIC(data []byte) (*header, error) {
	if err := boxesComplete(data); err != nil {
		return nil, err
	}
	info, err := codec.ReadHEIFInfo(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrUnreadable, err)
	}
	h := &header{format: HEIC, decode: decodeHEIC, width: info.W, height: info.H, icc: info.ICC, turned: true, costPerPx: 3 + 3 + 3}
	if info.Bits > bitsOf8 {
		h.costPerPx = 6 + 6 + 3
	}
	if len(info.EXIF) > 4 {
		if skip := int64(binary.BigEndian.Uint32(info.EXIF)) + 4; skip < int64(len(info.EXIF)) {
			h.exif = info.EXIF[skip:]
		}
	}
	if err := h.takeCodePoints(info.CodePoints); err != nil {
		return nil, err
	}
	return h, nil
}

// takeCodePoints names the colour space of a file without an ICC profile.
func (h *header) takeCodePoints(c codec.CodePoints) error {
	switch {
	case h.icc != nil || !c.Known:
	case c.Transfer == transferPQ || c.Transfer == transferHLG:
		return fmt.Errorf("%w: a HEIC with the tones of HDR television", ErrUnknownFormat)
	case c.Primaries == primariesP3:
		h.namedSpace = spaceDisplayP3
	case !primariesSRGB[c.Primaries]:
		h.notes = append(h.notes, fmt.Sprintf("The HEIC names colours of a rare kind (H.273 primaries %d); they were taken as sRGB.", c.Primaries))
	}
	return nil
}

// boxesComplete walks the outermost boxes (ISO/IEC 14496-12, 4.2): a file that was cut short ends within one, and one that
// was copied badly has zeros among its picture data.
func boxesComplete(data []byte) error {
	for pos := int64(0); pos < int64(len(data)); {
		if pos+boxHead > int64(len(data)) {
			return fmt.Errorf("%w: the HEIC is cut short after %d bytes", ErrUnreadable, len(data))
		}
		size := uint64(binary.BigEndian.Uint32(data[pos:]))
		switch size {
		case 0: // to the end of the file
			return nil
		case 1:
			if pos+longBoxHead > int64(len(data)) {
				return fmt.Errorf("%w: the HEIC is cut short after %d bytes", ErrUnreadable, len(data))
			}
			size = binary.BigEndian.Uint64(data[pos+8:])
		}
		if size < boxHead {
			return fmt.Errorf("%w: the HEIC is damaged at byte %d", ErrUnreadable, pos)
		}
		if size > uint64(int64(len(data))-pos) {
			return fmt.Errorf("%w: the HEIC is cut short after %d bytes", ErrUnreadable, len(data))
		}
		if string(data[pos+4:pos+8]) == "mdat" { // HEVC data never hold three zeros in a row
			if at := lostSector(data, int(pos)+8, int(pos+int64(size))); at >= 0 {
				return fmt.Errorf("%w: the HEIC has lost data from byte %d on, as after a failed copy", ErrUnreadable, at)
			}
		}
		pos += int64(size)
	}
	return nil
}

func decodeHEIC(data []byte, h *header, r *Reader) (raster.BGR, error) {
	img := r.picture(h)
	if err := codec.HEIF(data, img); err != nil {
		return raster.BGR{}, fmt.Errorf("%w: %v", ErrUnreadable, err)
	}
	return img, nil
}
