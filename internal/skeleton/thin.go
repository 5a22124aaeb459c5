// Package skeleton turns a mask of long thin bodies (roots) into centrelines: thinning, a graph of branches and
// junctions, crossings resolved by direction, spurs pruned by local width, smooth centrelines and their lengths.
// Everything is in pixels with centres at whole numbers; what a pixel is worth in mm is the caller's matter. Pure Go.
package skeleton

import "phototrack/internal/raster"

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
		on := func(i int) bool { return p>>(i%8)&1 == 1 }
		n, turns := 0, 0
		for i := range 8 {
			if on(i) {
				n++
			}
			if !on(i) && on(i+1) {
				turns++
			}
		}
		if n >= 2 && n <= 6 && turns == 1 {
			t.step[0][p] = !(on(0) && on(2) && on(4)) && !(on(2) && on(4) && on(6))
			t.step[1][p] = !(on(0) && on(2) && on(6)) && !(on(0) && on(4) && on(6))
		}
		t.staircase[p] = simple(p) && n >= 2 && n <= 5 && cornered(p)
	}
	return t
}

// cornered says that two neighbours across a corner are on, so that the pixel between them adds only a step.
func cornered(p int) bool {
	for i := 0; i < 8; i += 2 {
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
	for i := 0; i < 8; i += 2 {
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

// Thin reduces the mask to lines one pixel wide (Zhang & Suen 1984, Commun. ACM 27:236-239), then takes out the extra
// pixels of diagonal staircases so that only ends have one neighbour and only junctions more than two. The mask is
// treated as empty beyond its border. The input is not changed.
func Thin(m raster.Mask) raster.Mask {
	t := makeTables()
	w := m.W + 2
	g := make([]uint8, w*(m.H+2))
	var active []int32
	for y := range m.H {
		for x := range m.W {
			if m.Pix[y*m.W+x] != 0 {
				i := (y+1)*w + x + 1
				g[i] = 1
				active = append(active, int32(i))
			}
		}
	}
	var off [8]int
	for k, o := range ring {
		off[k] = o[1]*w + o[0]
	}
	pattern := func(i int32) int {
		p := 0
		for k, o := range off {
			p |= int(g[int(i)+o]) << k
		}
		return p
	}
	var gone []int32
	for changed := true; changed; {
		changed = false
		for half := range 2 {
			gone = gone[:0]
			for _, i := range active {
				if g[i] == 1 && t.step[half][pattern(i)] {
					gone = append(gone, i)
				}
			}
			for _, i := range gone {
				g[i] = 0
			}
			changed = changed || len(gone) > 0
		}
		kept := active[:0]
		for _, i := range active {
			if g[i] == 1 {
				kept = append(kept, i)
			}
		}
		active = kept
	}
	for _, i := range active {
		if t.staircase[pattern(i)] {
			g[i] = 0
		}
	}
	out := raster.NewMask(m.W, m.H)
	for _, i := range active {
		if g[i] == 1 {
			out.Pix[(int(i)/w-1)*m.W+int(i)%w-1] = 1
		}
	}
	return out
}
