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
	var unsettled []int32
	b := bounds(f.class, f.w, f.h)
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			c := f.class[y*f.w+x]
			if c >= Green+1 && (f.atBorder(x, y) || (c == Yellow+1 || c == Brown+1) && f.layer(x, y, reach)) {
				unsettled = append(unsettled, int32(y*f.w+x))
			}
		}
	}
	const pending = 255
	for _, i := range unsettled {
		f.class[i] = pending
	}
	settleByColour(f, in, p, unsettled, reach, pending)
	settleByNeighbours(f, unsettled, pending)
}

// atBorder says whether a pixel touches leaf of another class.
func (f *fine) atBorder(x, y int) bool {
	w, i := f.w, y*f.w+x
	c := f.class[i]
	return x > 0 && y > 0 && x < w-1 && y < f.h-1 &&
		(differ(c, f.class[i-1]) || differ(c, f.class[i+1]) || differ(c, f.class[i-w]) || differ(c, f.class[i+w]))
}

// layer says whether a pixel's class fills less of the leaf about it than a patch does.
func (f *fine) layer(x, y, reach int) bool {
	w, h, i := f.w, f.h, y*f.w+x
	c := f.class[i]
	if x >= reach && x < w-reach && y >= reach && y < h-reach &&
		f.class[i-reach] == c && f.class[i+reach] == c && f.class[i-reach*w] == c && f.class[i+reach*w] == c {
		return false
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
	return 100*same < patchPercent*all // per cent
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

// settleByColour gives an unsettled pixel the class, of those settled in its window, whose mean colour there it is nearest
// to in linear light: the edge between two colours is where their mixture is half and half.
func settleByColour(f *fine, in *Input, p *palette, unsettled []int32, reach int, pending uint8) {
	to := make([]uint8, len(unsettled))
	for k, i := range unsettled {
		to[k] = f.nearestColour(in, p, int(i)%f.w, int(i)/f.w, reach, pending)
	}
	for k, i := range unsettled {
		if to[k] != 0 {
			f.class[i] = to[k]
		}
	}
}

// nearestColour is the settled class in a pixel's window whose mean colour the pixel's is nearest to; 0 where there is none.
func (f *fine) nearestColour(in *Input, p *palette, x, y, reach int, pending uint8) (nearest uint8) {
	var sum [classCodes]colour.RGB
	var n [classCodes]float64
	for yy := max(0, y-reach); yy <= min(f.h-1, y+reach); yy++ {
		for xx := max(0, x-reach); xx <= min(f.w-1, x+reach); xx++ {
			if v := f.class[yy*f.w+xx]; v > NoClass+1 && v != pending {
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
			best, nearest = d, uint8(v)
		}
	}
	return nearest
}

// settleByNeighbours lets the classes grow into what is still unsettled, a pixel at a time.
func settleByNeighbours(f *fine, unsettled []int32, pending uint8) {
	for len(unsettled) > 0 {
		var next, set []int32
		var to []uint8
		for _, i := range unsettled {
			if f.class[i] != pending {
				continue
			}
			if v := f.mostAround(int(i)%f.w, int(i)/f.w, pending); v != 0 {
				set, to = append(set, i), append(to, v)
			} else {
				next = append(next, i)
			}
		}
		for j, i := range set {
			f.class[i] = to[j]
		}
		if len(set) == 0 { // no class lies anywhere near: they are leaf that is not judged
			for _, i := range next {
				f.class[i] = NoClass + 1
			}
			return
		}
		unsettled = next
	}
}

// mostAround is the class that most of the settled pixels about one have, one that is judged before what is not; 0 where all are unsettled.
func (f *fine) mostAround(x, y int, pending uint8) (most uint8) {
	var n [classCodes]int
	for yy := max(0, y-1); yy <= min(f.h-1, y+1); yy++ {
		for _, v := range f.class[yy*f.w+max(0, x-1) : yy*f.w+min(f.w, x+2)] {
			if v != 0 && v != pending {
				n[v]++
			}
		}
	}
	for v := Green + 1; v <= Brown+1; v++ {
		if n[v] > n[most] {
			most = v
		}
	}
	if most == 0 && n[NoClass+1] > 0 {
		return NoClass + 1
	}
	return most
}

// classCodes is how many values a mask of classes has: 0 outside the leaf, else a class's code and one.
const classCodes = Brown + 2

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

// runCount counts pixels side by side: of each class, their sides that face no leaf, and those that face another class.
type runCount struct {
	px, borders [classCodes]int
	edges       int
}

// side counts the side between a leaf pixel and the one to the right of it or below it.
func (c *runCount) side(own, other uint8) {
	if other == 0 {
		c.edges++
	} else if other != own {
		c.borders[other]++
		c.borders[own]++
	}
}

// count counts the run of pixels that begins at x0; false where there is no leaf among them.
func (f *fine) count(x0, y int) (c runCount, any bool) {
	w := f.w
	row := f.class[y*w : (y+1)*w]
	if f.even(x0, y) {
		c.px[row[x0]] = paintRun
		return c, true
	}
	for x := x0; x < min(w, x0+paintRun); x++ {
		v := row[x]
		if v == 0 {
			continue
		}
		any = true
		c.px[v]++
		if x+1 < w {
			c.side(v, row[x+1])
		}
		if x > 0 && row[x-1] == 0 {
			c.edges++
		}
		if y+1 < f.h {
			c.side(v, f.class[(y+1)*w+x])
		}
		if y > 0 && f.class[(y-1)*w+x] == 0 {
			c.edges++
		}
	}
	return c, any
}

// add takes in a run of pixels of mm2 each about a place, and gives how many are leaf.
func (t *tally) add(c *runCount, mm2 float64, pos geom.MM) (n int) {
	for class := range t.class {
		t.class[class] += float64(c.px[class+1]) * mm2
		n += c.px[class+1]
	}
	a := float64(n) * mm2
	t.area += a
	t.centre.X += a * pos.X
	t.centre.Y += a * pos.Y
	// Pixel sides run along both axes: over all directions they are 4/pi longer than the line they follow.
	t.outline += float64(c.edges) * math.Sqrt(mm2) * math.Pi / 4
	for class := range t.border {
		t.border[class] += float64(c.borders[class+1]) * math.Sqrt(mm2) * math.Pi / 4
	}
	return n
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
			if c, any := f.count(x0, y); any {
				p := geom.PX{X: k*(float64(x0)+7.5) + o, Y: k*float64(y) + o}
				n += t.add(&c, k*k*toPlane.AreaMM2(p), toPlane.MM(p))
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
