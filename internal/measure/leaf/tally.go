package leaf

import (
	"encoding/binary"
	"math"

	"phototrack/internal/geom"
)

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
