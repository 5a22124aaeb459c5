package leaf

import (
	"encoding/binary"
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
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

// settle takes back classes that are only the passage from one colour to another. Where green meets purple the mixed
// pixels between are yellow and brown by hue, and at the outline the ground mixes in; such a layer is as thin as the
// lens and the camera's colour sampling make it. Yellow and brown that is no wider than that is decided anew, and so is
// every pixel at a border between classes.
func settle(f *fine, in *Input, p *palette, reach int) {
	w, h := f.w, f.h
	var open []int32
	const y1, b1 = Yellow + 1, Brown + 1
	b := bounds(f.class, w, h)
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*w + x
			c := f.class[i]
			if c < Green+1 {
				continue
			}
			if x > 0 && y > 0 && x < w-1 && y < h-1 &&
				(differ(c, f.class[i-1]) || differ(c, f.class[i+1]) || differ(c, f.class[i-w]) || differ(c, f.class[i+w])) {
				open = append(open, int32(i))
				continue
			}
			if c != y1 && c != b1 {
				continue
			}
			if x >= reach && x < w-reach && y >= reach && y < h-reach &&
				f.class[i-reach] == c && f.class[i+reach] == c && f.class[i-reach*w] == c && f.class[i+reach*w] == c {
				continue
			}
			same, all := 0, 0
			for yy := max(0, y-reach); yy <= min(h-1, y+reach); yy++ {
				for _, v := range f.class[yy*w+max(0, x-reach) : yy*w+min(w, x+reach+1)] {
					if v != 0 {
						all++
						if v == c {
							same++
						}
					}
				}
			}
			if 100*same < patchPercent*all { // per cent
				open = append(open, int32(i))
			}
		}
	}
	const pending = 255
	for _, i := range open {
		f.class[i] = pending
	}
	settleByColour(f, in, p, open, reach, pending)
	settleByNeighbours(f, open, pending)
}

const (
	// patchPercent is how much of the leaf in the window about a pixel a patch of yellow or brown fills at least: at the straight border of a
	// wide patch it is half, and a little less where that border is round. By eye.
	patchPercent = 45
	// fewOfClass is how many pixels of a class must be settled nearby for a pixel to be given it: one or two may be noise themselves. By eye.
	fewOfClass = 3
)

// differ says whether two pixels are leaf of different classes.
func differ(a, b uint8) bool { return a > NoClass+1 && b > NoClass+1 && a != b }

// settleByColour gives an open pixel the class, of those settled in its window, whose mean colour there it is nearest
// to in linear light: the edge between two colours is where their mixture is half and half.
func settleByColour(f *fine, in *Input, p *palette, open []int32, reach int, pending uint8) {
	w, h := f.w, f.h
	to := make([]uint8, len(open))
	for k, i := range open {
		x, y := int(i)%w, int(i)/w
		var sum [6]colour.RGB
		var n [6]float64
		for yy := max(0, y-reach); yy <= min(h-1, y+reach); yy++ {
			for xx := max(0, x-reach); xx <= min(w-1, x+reach); xx++ {
				if v := f.class[yy*w+xx]; v > NoClass+1 && v != pending {
					c := &p.cells[p.at(f.camera(in, xx, yy))].lin
					for j := range c {
						sum[v][j] += c[j]
					}
					n[v]++
				}
			}
		}
		c := &p.cells[p.at(f.camera(in, x, y))].lin
		best := math.Inf(1)
		for v := range n {
			if n[v] < fewOfClass {
				continue
			}
			d := 0.0
			for j := range c {
				d += (sum[v][j]/n[v] - c[j]) * (sum[v][j]/n[v] - c[j])
			}
			if d < best {
				best, to[k] = d, uint8(v)
			}
		}
	}
	for k, i := range open {
		if to[k] != 0 {
			f.class[i] = to[k]
		}
	}
}

// settleByNeighbours lets the classes grow into what is still open, a pixel at a time.
func settleByNeighbours(f *fine, open []int32, pending uint8) {
	w, h := f.w, f.h
	for len(open) > 0 {
		var next, set []int32
		var to []uint8
		for _, i := range open {
			if f.class[i] != pending {
				continue
			}
			x, y := int(i)%w, int(i)/w
			var n [6]int
			for yy := max(0, y-1); yy <= min(h-1, y+1); yy++ {
				for xx := max(0, x-1); xx <= min(w-1, x+1); xx++ {
					if v := f.class[yy*w+xx]; v != 0 && v != pending {
						n[v]++
					}
				}
			}
			best := uint8(0)
			for v := Green + 1; v <= Brown+1; v++ {
				if n[v] > 0 && (best == 0 || n[v] > n[best]) {
					best = v
				}
			}
			if best == 0 && n[1] > 0 {
				best = 1
			}
			if best == 0 {
				next = append(next, i)
			} else {
				set, to = append(set, i), append(to, best)
			}
		}
		for j, i := range set {
			f.class[i] = to[j]
		}
		if len(set) == 0 {
			for _, i := range next {
				f.class[i] = 1
			}
			break
		}
		open = next
	}
}

// tally are areas in mm2: of the whole mask, by class, and the lengths in mm of the outline and of class borders.
type tally struct {
	area     float64
	class    [5]float64
	outline  float64
	border   [5]float64 // of each class against the others
	doubt    float64    // mm2: standard uncertainty by what may have been judged wrongly
	doubtful [5]float64 // shares of the classes in it
	pxMM     float64    // mean width of a fine pixel
	centre   geom.MM    // of the leaf area
}

// noArea stands for an area of nothing, mm2, where it is divided by.
const noArea = 1e-9

// even says whether a run of pixels has one class, and all about it the same: there is no edge there.
func (f *fine) even(x0, y int) bool {
	w := f.w
	if x0 < 1 || x0+paintRun+1 > w || y < 1 || y+1 >= f.h {
		return false
	}
	i := y*w + x0
	v := f.class[i]
	word := uint64(v) * 0x0101010101010101
	for _, o := range [3]int{i - w, i, i + w} {
		run := f.class[o : o+paintRun]
		if binary.LittleEndian.Uint64(run) != word || binary.LittleEndian.Uint64(run[8:]) != word {
			return false
		}
	}
	return f.class[i-1] == v && f.class[i+paintRun] == v
}

func (f *fine) tally(toPlane geom.ToPlane) (t tally) {
	k := float64(f.k)
	o := (k - 1) / 2
	w := f.w
	n := 0
	for y := range f.h {
		row := f.class[y*w : (y+1)*w]
		for x0 := 0; x0 < w; x0 += paintRun {
			if x0+paintRun <= w && empty(row[x0:x0+paintRun]) {
				continue
			}
			var c [6]int
			any := false
			edges := 0
			var borders [6]int
			from := x0
			if f.even(x0, y) {
				any, c[row[x0]], from = true, paintRun, w
			}
			for x := from; x < min(w, x0+paintRun); x++ {
				v := row[x]
				if v == 0 {
					continue
				}
				any = true
				c[v]++
				if x+1 < w {
					if u := row[x+1]; u == 0 {
						edges++
					} else if u != v {
						borders[u]++
						borders[v]++
					}
				}
				if x > 0 && row[x-1] == 0 {
					edges++
				}
				if y+1 < f.h {
					if u := f.class[(y+1)*w+x]; u == 0 {
						edges++
					} else if u != v {
						borders[u]++
						borders[v]++
					}
				}
				if y > 0 && f.class[(y-1)*w+x] == 0 {
					edges++
				}
			}
			if !any {
				continue
			}
			p := geom.PX{X: k*(float64(x0)+7.5) + o, Y: k*float64(y) + o}
			mm2 := k * k * toPlane.AreaMM2(p)
			pos := toPlane.MM(p)
			m := 0
			for class := range t.class {
				t.class[class] += float64(c[class+1]) * mm2
				m += c[class+1]
			}
			n += m
			a := float64(m) * mm2
			t.area += a
			t.centre.X += a * pos.X
			t.centre.Y += a * pos.Y
			// Pixel sides run along both axes: over all directions they are 4/pi longer than the line they follow.
			t.outline += float64(edges) * math.Sqrt(mm2) * math.Pi / 4
			for class := range t.border {
				t.border[class] += float64(borders[class+1]) * math.Sqrt(mm2) * math.Pi / 4
			}
		}
	}
	if n > 0 {
		t.pxMM = math.Sqrt(t.area / float64(n))
		t.centre.X /= t.area
		t.centre.Y /= t.area
	}
	return
}
