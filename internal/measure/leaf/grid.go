package leaf

import (
	"phototrack/internal/record"
	"phototrack/internal/shrink"
)

// grid is the reduced picture on which leaves are found, and what must not be leaf.
type grid struct {
	w, h    int
	k       int // one grid pixel is k x k photo pixels
	pxPerMM float64
	pix     []uint8 // mean camera values, BGR
	block   []uint8 // card, tag or left out by hand
}

// What a blocked grid pixel is.
const (
	blockCard uint8 = iota + 1
	blockTag
	blockHand
)

// newGrid reduces the photo by k.
func newGrid(in *Input, k int) *grid {
	g := &grid{k: k, pxPerMM: in.ScalePxPerMM / float64(k)}
	// Edges are placed later on finer pixels in linear light; here the mean of the camera's coded values is good enough.
	small, err := shrink.Blocks(in.Img, k)
	if err != nil {
		return g // a picture smaller than k px: Measure refuses it before
	}
	g.pix, g.w, g.h = small.Pix, small.W, small.H
	g.block = make([]uint8, g.w*g.h)
	block := g.drawnOn(g.block)
	if len(in.Card) > 0 {
		block.fill(in.Card, blockCard)
	}
	for _, q := range in.Tags {
		block.fill(q, blockTag)
	}
	for _, m := range in.Marks {
		if !m.Keep {
			block.fill(m.Points, blockHand)
		}
	}
	return g
}

// canvas is a mask on which polygons of the photo are drawn.
type canvas struct {
	pix  []uint8
	w, h int
	k    float64 // one of its pixels is k x k photo pixels
}

// drawnOn is a mask of the grid's size to draw on.
func (g *grid) drawnOn(m []uint8) canvas { return canvas{pix: m, w: g.w, h: g.h, k: float64(g.k)} }

// fill sets every pixel whose centre lies in the polygon (photo px, even-odd) to v.
func (c canvas) fill(poly []record.Point, v uint8) {
	if len(poly) < 3 {
		return
	}
	o := (c.k - 1) / 2
	ylo, yhi := poly[0].Y, poly[0].Y
	for _, p := range poly {
		ylo, yhi = min(ylo, p.Y), max(yhi, p.Y)
	}
	y0, y1 := max(0, int((ylo-o)/c.k)), min(c.h-1, int((yhi-o)/c.k)+1)
	var xs []float64
	for y := y0; y <= y1; y++ {
		xs = xs[:0]
		yy := float64(y)*c.k + o
		for i, p := range poly {
			q := poly[(i+1)%len(poly)]
			if (p.Y <= yy) != (q.Y <= yy) {
				xs = append(xs, p.X+(yy-p.Y)/(q.Y-p.Y)*(q.X-p.X))
			}
		}
		sortFloats(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			a, b := (xs[i]-o)/c.k, (xs[i+1]-o)/c.k
			for x := max(0, ceilInt(a)); x <= min(c.w-1, floorInt(b)); x++ {
				c.pix[y*c.w+x] = v
			}
		}
	}
}
