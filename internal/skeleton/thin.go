// Package skeleton turns a mask of long thin bodies (roots) into centrelines: thinning, a graph of branches and
// junctions, crossings resolved by direction, spurs pruned by local width, smooth centrelines and their lengths.
// Everything is in pixels with centres at whole numbers; what a pixel is worth in mm is the caller's matter. Pure Go.
package skeleton

import (
	"slices"

	"phototrack/internal/raster"
)

// Neighbour offsets, clockwise from above: the order P2..P9 of Zhang & Suen.
var ring = [8][2]int{{0, -1}, {1, -1}, {1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}}

// thinTables holds, for every pattern of the 8 neighbours, whether the first and the second half step of Zhang & Suen
// take the pixel away, and whether the pixel is redundant on a diagonal staircase.
type thinTables struct {
	step      [2][256]bool
	staircase [256]bool
}

func makeTables() *thinTables {
	t := &thinTables{}
	for p := range 256 {
		const north, east, south, west = 1 << 0, 1 << 2, 1 << 4, 1 << 6 // P2, P4, P6, P8
		lacks := func(sides int) bool { return p&sides != sides }
		n, turns := around(p)
		if n >= 2 && n <= mostToThin && turns == 1 {
			t.step[0][p] = lacks(north|east|south) && lacks(east|south|west)
			t.step[1][p] = lacks(north|east|west) && lacks(north|south|west)
		}
		t.staircase[p] = simple(p) && n >= 2 && n <= mostOnStair && cornered(p)
	}
	return t
}

const (
	mostToThin  = 6 // B(P1) of Zhang & Suen: with more neighbours the pixel is no border
	mostOnStair = 5 // with more it lies within a body, not on a line (chosen by eye)
)

// around counts the neighbours of a pattern, and how often off turns to on around it.
func around(p int) (n, turns int) {
	for i := range ring {
		on, next := p>>i&1, p>>((i+1)%len(ring))&1
		n += on
		if on == 0 && next == 1 {
			turns++
		}
	}
	return n, turns
}

// cornered says that two neighbours across a corner are on, so that the pixel between them adds only a step.
func cornered(p int) bool {
	for i := 0; i < len(ring); i += 2 {
		if p>>i&1 == 1 && p>>((i+2)%8)&1 == 1 && p>>((i+4)%8)&1 == 0 && p>>((i+6)%8)&1 == 0 {
			return true
		}
	}
	return false
}

// simple says that taking the pixel away joins and parts nothing: one 8-connected group among its neighbours and at
// least one 4-neighbour off (crossing number of Hilditch).
func simple(p int) bool {
	x, four := 0, false
	for i := 0; i < len(ring); i += 2 {
		a, b, c := p>>i&1, p>>(i+1)&1, p>>((i+2)%8)&1
		if a == 0 {
			four = true
			if b == 1 || c == 1 {
				x++
			}
		}
	}
	return four && x == 1
}

// thinning is a mask under way, with an empty border of one pixel.
type thinning struct {
	w      int
	g      []uint8
	active []int32        // pixels that are on, or were a step ago
	off    [len(ring)]int // to a pixel's neighbours
	tables *thinTables
}

// Thin reduces the mask to lines one pixel wide (Zhang & Suen 1984, Commun. ACM 27:236-239), then takes out the extra
// pixels of diagonal staircases so that only ends have one neighbour and only junctions more than two. The mask is
// treated as empty beyond its border. The input is not changed.
func Thin(m raster.Mask) raster.Mask {
	t := newThinning(m)
	for t.step() {
	}
	for _, i := range t.active {
		if t.tables.staircase[t.pattern(i)] {
			t.g[i] = 0
		}
	}
	out := raster.NewMask(m.W, m.H)
	for _, i := range t.active {
		if t.g[i] == 1 {
			out.Pix[(int(i)/t.w-1)*m.W+int(i)%t.w-1] = 1
		}
	}
	return out
}

func newThinning(m raster.Mask) *thinning {
	t := &thinning{w: m.W + 2, tables: makeTables()}
	t.g = make([]uint8, t.w*(m.H+2))
	for y := range m.H {
		for x := range m.W {
			if m.Pix[y*m.W+x] != 0 {
				i := (y+1)*t.w + x + 1
				t.g[i] = 1
				t.active = append(t.active, int32(i))
			}
		}
	}
	for k, o := range ring {
		t.off[k] = o[1]*t.w + o[0]
	}
	return t
}

// pattern is which of a pixel's neighbours are on.
func (t *thinning) pattern(i int32) (p int) {
	for k, o := range t.off {
		p |= int(t.g[int(i)+o]) << k
	}
	return p
}

// step takes one layer off, in two halves; false where there was none left.
func (t *thinning) step() (changed bool) {
	var gone []int32
	for half := range t.tables.step {
		gone = gone[:0]
		for _, i := range t.active {
			if t.g[i] == 1 && t.tables.step[half][t.pattern(i)] {
				gone = append(gone, i)
			}
		}
		for _, i := range gone {
			t.g[i] = 0
		}
		changed = changed || len(gone) > 0
	}
	t.active = slices.DeleteFunc(t.active, func(i int32) bool { return t.g[i] == 0 })
	return changed
}
