package leaf

import (
	"encoding/binary"

	"phototrack/internal/geom"
)

// paint gives every leaf pixel its class (code + 1 in f.class; 0 outside) and adds up the palette's areas.
func paint(in *Input, f *fine, toPlane geom.ToPlane, p *palette) {
	f.class = make([]uint8, len(f.mask))
	k := float64(f.k)
	o := (k - 1) / 2
	// Apart from the cells, which are large: these two are asked for at every pixel.
	var areas []float64
	var codes []uint8
	for y := range f.h {
		row, class := f.mask[y*f.w:(y+1)*f.w], f.class[y*f.w:(y+1)*f.w]
		for x0 := 0; x0 < f.w; x0 += paintRun {
			if x0+paintRun <= f.w && empty(row[x0:x0+paintRun]) {
				continue
			}
			mm2 := -1.0
			for x := x0; x < min(f.w, x0+paintRun); x++ {
				if row[x] == 0 {
					continue
				}
				if mm2 < 0 {
					mm2 = k * k * toPlane.AreaMM2(geom.PX{X: k*(float64(x0)+7.5) + o, Y: k*float64(y) + o})
				}
				n := p.at(f.camera(in, x, y))
				for int(n) >= len(areas) {
					areas, codes = append(areas, 0), append(codes, p.cells[len(codes)].class+1)
				}
				areas[n] += mm2
				class[x] = codes[n]
			}
		}
	}
	for i, mm2 := range areas {
		p.cells[i].mm2 += mm2
	}
}

// paintRun is how many pixels side by side are taken to be of one size in mm2.
const paintRun = 16

// empty says whether 16 pixels are all 0.
func empty(p []uint8) bool {
	return binary.LittleEndian.Uint64(p)|binary.LittleEndian.Uint64(p[8:16]) == 0
}
