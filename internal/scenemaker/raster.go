package scenemaker

import (
	"math"
	"sort"

	"phototrack/internal/geom"
)

// sub samples each way are taken of a pixel that an edge crosses.
const sub = 8

// canvas says which shape each pixel shows: one for most, a block of sub x sub samples where an edge crosses the pixel.
// Shapes are numbered from 1; 0 is the backdrop.
type canvas struct {
	w, h   int
	id     []uint16
	block  []int32 // -1: no edge crosses the pixel; else which block
	blocks [][sub * sub]uint16
}

func newCanvas(w, h int) *canvas {
	c := &canvas{w: w, h: h, id: make([]uint16, w*h), block: make([]int32, w*h)}
	for i := range c.block {
		c.block[i] = -1
	}
	return c
}

// mark gives a block to every pixel that the edge from a to b touches.
func (c *canvas) mark(a, b geom.PX) {
	if a.Y > b.Y {
		a, b = b, a
	}
	first, last := int(math.Floor(a.Y+0.5)), int(math.Floor(b.Y+0.5))
	for y := max(0, first); y <= min(c.h-1, last); y++ {
		lo, hi := a.X, b.X
		if b.Y > a.Y { // the part of the edge within this row of pixels
			s := (b.X - a.X) / (b.Y - a.Y)
			lo = a.X + s*(math.Max(a.Y, float64(y)-0.5)-a.Y)
			hi = a.X + s*(math.Min(b.Y, float64(y)+0.5)-a.Y)
		}
		if lo > hi {
			lo, hi = hi, lo
		}
		for x := max(0, int(math.Floor(lo+0.5))); x <= min(c.w-1, int(math.Floor(hi+0.5))); x++ {
			if c.block[y*c.w+x] < 0 {
				c.block[y*c.w+x] = int32(len(c.blocks))
				c.blocks = append(c.blocks, [sub * sub]uint16{})
			}
		}
	}
}

// markRings marks all edges of closed rings.
func (c *canvas) markRings(rings [][]geom.PX) {
	for _, r := range rings {
		for i := range r {
			c.mark(r[i], r[(i+1)%len(r)])
		}
	}
}

// brush paints samples with the number of a shape, those that show a shape so far which free lets go.
type brush struct {
	id   uint16
	free func(uint16) bool
}

// fill paints rings by the even-odd rule, after all edges of all shapes were marked.
func (c *canvas) fill(rings [][]geom.PX, b brush) {
	top, bottom := math.Inf(1), math.Inf(-1)
	for _, r := range rings {
		for _, p := range r {
			top, bottom = math.Min(top, p.Y), math.Max(bottom, p.Y)
		}
	}
	var cross []float64
	for y := max(0, int(math.Floor(top+0.5))); y <= min(c.h-1, int(math.Floor(bottom+0.5))); y++ {
		for k := range sub {
			at := float64(y) - 0.5 + (float64(k)+0.5)/sub
			cross = crossings(cross[:0], rings, at)
			for i := 0; i+1 < len(cross); i += 2 {
				c.span(y, k, cross[i], cross[i+1], b)
			}
		}
	}
}

// crossings are where a level line meets the rings, sorted.
func crossings(out []float64, rings [][]geom.PX, y float64) []float64 {
	for _, r := range rings {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			if (a.Y <= y) != (b.Y <= y) {
				out = append(out, a.X+(b.X-a.X)*(y-a.Y)/(b.Y-a.Y))
			}
		}
	}
	sort.Float64s(out)
	return out
}

// span paints the samples of one row of samples between two places.
func (c *canvas) span(y, k int, from, to float64, with brush) {
	for x := max(0, int(math.Floor(from+0.5))); x <= min(c.w-1, int(math.Floor(to+0.5))); x++ {
		i := y*c.w + x
		b := c.block[i]
		if b < 0 {
			if k == 0 && with.free(c.id[i]) {
				c.id[i] = with.id
			}
			continue
		}
		// Sample j lies at x - 0.5 + (j + 0.5) / sub; those at or after from and before to are inside.
		j0 := max(0, int(math.Ceil((from-float64(x)+0.5)*sub-0.5)))
		j1 := min(sub, int(math.Ceil((to-float64(x)+0.5)*sub-0.5)))
		for j := j0; j < j1; j++ {
			if s := &c.blocks[b][k*sub+j]; with.free(*s) {
				*s = with.id
			}
		}
	}
}

// share is one shape's part of a pixel.
type share struct {
	id   uint16
	part float64
}

// shares are what a pixel shows, appended to out.
func (c *canvas) shares(i int, out []share) []share {
	b := c.block[i]
	if b < 0 {
		return append(out, share{c.id[i], 1})
	}
	for _, id := range c.blocks[b] {
		found := false
		for k := range out {
			if out[k].id == id {
				out[k].part += 1.0 / (sub * sub)
				found = true
				break
			}
		}
		if !found {
			out = append(out, share{id, 1.0 / (sub * sub)})
		}
	}
	return out
}
