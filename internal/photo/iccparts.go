package photo

import "fmt"

// maxProfileBytes bounds an embedded profile. Cameras write under 4 kB, printers' tables run to a few megabytes.
const maxProfileBytes = 4 << 20

// iccParts collects a profile that is spread over JPEG segments (ICC.1:2022, annex B.4).
type iccParts struct {
	parts map[byte][]byte
	count byte
	fault string
}

// add takes one segment's content after the tag: number of the part from 1, number of parts, bytes.
func (p *iccParts) add(seg []byte) {
	if len(seg) < 3 {
		p.fault = "a part of it is empty"
		return
	}
	if p.parts == nil {
		p.parts = map[byte][]byte{}
		p.count = seg[1]
	}
	if _, twice := p.parts[seg[0]]; twice || seg[1] != p.count || seg[0] == 0 || seg[0] > seg[1] {
		p.fault = "its parts are numbered wrongly"
		return
	}
	p.parts[seg[0]] = seg[2:]
}

// join gives the profile, or why there is none although parts were found.
func (p *iccParts) join() (profile []byte, fault string) {
	if p.fault != "" || p.parts == nil {
		return nil, p.fault
	}
	for i := 1; i <= int(p.count); i++ {
		part, ok := p.parts[byte(i)]
		if !ok {
			return nil, fmt.Sprintf("part %d of %d is missing", i, p.count)
		}
		profile = append(profile, part...)
		if len(profile) > maxProfileBytes {
			return nil, fmt.Sprintf("it has more than %d MB", maxProfileBytes>>20)
		}
	}
	return profile, ""
}
