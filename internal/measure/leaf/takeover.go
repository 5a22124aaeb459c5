package leaf

import (
	"phototrack/internal/raster"
	"phototrack/internal/regions"
)

// sureOrNot is 1 where a place is rather leaf than not.
func sureOrNot(p []float32) []uint8 { return over(p, 0.5) }

// takeOver brings what the grid shows into the map of the whole photo: the probability of leaf. The other classes keep their
// proportions. where bounds it to the places that hold set grid pixels; nil: all.
func (r *found) takeOver(g *grid, p []float32, where []uint8) {
	m := &r.seen
	columns := make([][2]int, m.W) // of the grid: those of a place
	for x := range columns {
		columns[x] = [2]int{x * g.w / m.W, max(x*g.w/m.W+1, (x+1)*g.w/m.W)}
	}
	for y := range m.H {
		gy0, gy1 := y*g.h/m.H, max(y*g.h/m.H+1, (y+1)*g.h/m.H)
		if where != nil && raster.NextSet(where[gy0*g.w:gy1*g.w], 0) == (gy1-gy0)*g.w {
			continue
		}
		for x, column := range columns {
			gx0, gx1 := column[0], column[1]
			there := where == nil
			for gy := gy0; gy < gy1 && !there; gy++ {
				there = anySet(where[gy*g.w+gx0 : gy*g.w+gx1])
			}
			if !there {
				continue
			}
			set := float32(0)
			for gy := gy0; gy < gy1; gy++ {
				for _, v := range p[gy*g.w+gx0 : gy*g.w+gx1] {
					set += v
				}
			}
			r.setLeaf(y*m.W+x, set/float32((gy1-gy0)*(gx1-gx0)))
		}
	}
}

// anySet says whether one of a few pixels is set.
func anySet(m []uint8) bool {
	for _, v := range m {
		if v != 0 {
			return true
		}
	}
	return false
}

// setLeaf gives a place another probability of leaf.
func (r *found) setLeaf(i int, set float32) {
	m := &r.seen
	rest := 1 - m.P[regions.Leaf][i]
	best := regions.Rest
	for k := range m.P {
		switch {
		case regions.Class(k) == regions.Leaf:
			m.P[k][i] = set
		case rest > noChance:
			m.P[k][i] *= (1 - set) / rest
		case regions.Class(k) == regions.Rest:
			m.P[k][i] = 1 - set
		}
		if m.P[k][i] > m.P[best][i] {
			best = regions.Class(k)
		}
	}
	m.Class[i] = best
}
