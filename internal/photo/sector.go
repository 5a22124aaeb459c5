package photo

import "bytes"

// sectorBytes is the unit in which disks, cards and file systems lose data.
const sectorBytes = 512

// lostSector finds a stretch of whole sectors of zeros, which a failed copy or a dying card leaves: the zeros begin and
// end at borders of sectors, but for a byte or two that may be zero by chance. A plain area of a picture can be coded in
// zeros too, but does not keep to such borders. It gives the offset, or -1 where there is none.
func lostSector(data []byte, from, to int) int {
	const chance = 2
	for at := (from + sectorBytes - 1) / sectorBytes * sectorBytes; at+sectorBytes <= to; {
		if data[at] != 0 || len(bytes.TrimLeft(data[at:at+sectorBytes], "\x00")) != 0 {
			at += sectorBytes
			continue
		}
		start, end := at, at+sectorBytes
		for start > from && data[start-1] == 0 {
			start--
		}
		for end < to && data[end] == 0 {
			end++
		}
		if at-start <= chance && end%sectorBytes <= chance {
			return at
		}
		at = (end + sectorBytes - 1) / sectorBytes * sectorBytes
	}
	return -1
}
