package leaf

import (
	"phototrack/internal/colour"
)

// cell is one corrected colour that occurs in the leaves: all camera values that agree in their seven highest bits.
type cell struct {
	lab   colour.Lab
	lin   colour.RGB
	rgb   [3]float64 // corrected 8-bit sRGB
	class uint8
	mm2   float64 // leaf area of this colour
}

const (
	cellBits = 7
	cellDrop = 8 - cellBits
)

// palette looks up, and makes when first met, the cell of a camera colour. Leaves have a few thousand of them, so that
// everything about a colour is worked out once and not once per pixel.
type palette struct {
	in    *Input
	table []*[1 << cellBits]int32 // by red and green, then blue: cell number + 1; pages are made when met
	cells []cell
	ct    *ClassTable
	enc   *encodeTable
}

func newPalette(in *Input, ct *ClassTable) *palette {
	return &palette{in: in, ct: ct, enc: newEncodeTable(), table: make([]*[1 << cellBits]int32, 1<<(2*cellBits))}
}

func (p *palette) at(b, g, r uint8) int32 {
	page := &p.table[int(r>>cellDrop)<<cellBits|int(g>>cellDrop)]
	if *page == nil {
		*page = new([1 << cellBits]int32)
	}
	slot := &(*page)[b>>cellDrop]
	if *slot != 0 {
		return *slot - 1
	}
	mid := func(v uint8) uint8 { return v>>cellDrop<<cellDrop | 1<<cellDrop>>1 }
	x, y, z := p.in.Colour.Linear(mid(r), mid(g), mid(b))
	c := colour.RGB{float64(x), float64(y), float64(z)}
	lab := c.Lab()
	p.cells = append(p.cells, cell{
		lab:   lab,
		lin:   c,
		rgb:   [3]float64{p.enc.at(c[0]), p.enc.at(c[1]), p.enc.at(c[2])},
		class: p.ct.Of(lab.L, lab.A, lab.B),
	})
	*slot = int32(len(p.cells))
	return int32(len(p.cells)) - 1
}

// colours of the fine mask's pixels: mean camera values of the k x k photo pixels under each.
func (f *fine) camera(in *Input, x, y int) (b, g, r uint8) {
	st := 3 * in.Img.W
	o := y*f.k*st + 3*x*f.k
	switch f.k {
	case 1:
		p := in.Img.Pix[o : o+3 : o+3]
		return p[0], p[1], p[2]
	case 2:
		p, q := in.Img.Pix[o:o+6:o+6], in.Img.Pix[o+st:o+st+6:o+st+6]
		return uint8((uint(p[0]) + uint(p[3]) + uint(q[0]) + uint(q[3]) + 2) / 4),
			uint8((uint(p[1]) + uint(p[4]) + uint(q[1]) + uint(q[4]) + 2) / 4),
			uint8((uint(p[2]) + uint(p[5]) + uint(q[2]) + uint(q[5]) + 2) / 4)
	}
	var s [3]uint
	for j := range f.k {
		row := in.Img.Pix[o+j*st : o+j*st+3*f.k]
		for len(row) >= 3 {
			s[0] += uint(row[0])
			s[1] += uint(row[1])
			s[2] += uint(row[2])
			row = row[3:]
		}
	}
	n := uint(f.k * f.k)
	return uint8((s[0] + n/2) / n), uint8((s[1] + n/2) / n), uint8((s[2] + n/2) / n)
}
