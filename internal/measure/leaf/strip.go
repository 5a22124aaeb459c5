package leaf

import (
	"math"
)

const (
	// leastStripPx and mostStripPx bound the width, grid px, of a thin thing.
	leastStripPx, mostStripPx = 3, 14
	// stripEdge is the least step of colour, camera levels, at its edges: twice what a camera's noise makes of two means of two pixels.
	stripEdge = 8
	// stripShift is how far an edge may lie from where the rows before put it, px, and stripTone how far its colour from theirs, levels.
	stripShift, stripTone = 1.6, 12
	// stripGap is the longest stretch, rows, that is not seen of it, as behind a clip.
	stripGap = 40
	// slopeRows is the number of rows from which its direction is taken, fewSlopeRows the fewest, and steadyRows those whose mean says where
	// it is.
	slopeRows, fewSlopeRows, steadyRows = 12, 4, 6
	// leastRowPx is the shortest row that is looked through: two pixels to each side of two edges.
	leastRowPx = 8
)

// cut is where a row crosses a thin thing: its edges lie before pixel a and before pixel b.
type cut struct {
	y, a, b int
	colour  [3]float32
}

// cuts finds the short runs between two edges in a row.
func (s *sweep) cuts(y int, step []float32, out []cut) []cut {
	out = out[:0]
	row := y * s.g.w
	pixel := func(x int) []uint8 { k := 3 * (row + x); return s.g.pix[k : k+3 : k+3] }
	n := s.x1 - s.x0
	if n < leastRowPx {
		return out
	}
	// step[i] is the difference between the two pixels before i and the two from i on, squared.
	a, b, c := pixel(s.x0), pixel(s.x0+1), pixel(s.x0+2)
	for i := 2; i+1 < n; i++ {
		d := pixel(s.x0 + i + 1)
		var q int32
		for k := range 3 {
			e := int32(a[k]) + int32(b[k]) - int32(c[k]) - int32(d[k])
			q += e * e
		}
		step[i] = float32(q) / 4
		a, b, c = b, c, d
	}
	step[0], step[1], step[n-1] = 0, 0, 0
	last := -1
	for i := 2; i < n-1; i++ {
		if step[i] < stripEdge*stripEdge || step[i] < step[i-1] || step[i] <= step[i+1] {
			continue
		}
		if w := i - last; last >= 0 && w >= leastStripPx && w <= mostStripPx {
			q := cut{y: y, a: s.x0 + last, b: s.x0 + i}
			for x := q.a; x < q.b; x++ {
				for k, v := range pixel(x) {
					q.colour[k] += float32(v) / float32(w)
				}
			}
			out = append(out, q)
		}
		last = i
	}
	return out
}

// chain is a thin thing followed over rows.
type chain struct {
	cuts []cut
	tone [3]float32
}

func (c *chain) add(q cut) {
	c.cuts = append(c.cuts, q)
	for k := range c.tone {
		c.tone[k] += 0.2 * (q.colour[k] - c.tone[k])
	}
}

// ahead is where the edges are to be expected in a row, by the last rows.
func (c *chain) ahead(y int) (a, b float64) {
	n := len(c.cuts)
	from := max(0, n-slopeRows)
	p, q := &c.cuts[from], &c.cuts[n-1]
	a, b = float64(q.a), float64(q.b)
	if n-from >= fewSlopeRows {
		slope := float64(q.a+q.b-p.a-p.b) / 2 / float64(q.y-p.y)
		var ma, mb, my float64 // the mean of the rows is steadier than the last
		for _, v := range c.cuts[max(from, n-steadyRows):] {
			k := 1 / float64(n-max(from, n-steadyRows))
			ma, mb, my = ma+k*float64(v.a), mb+k*float64(v.b), my+k*float64(v.y)
		}
		a, b = ma+slope*(float64(y)-my), mb+slope*(float64(y)-my)
	}
	return
}

// chains follows the runs from row to row.
func (s *sweep) chains() (out []*chain) {
	step := make([]float32, s.x1-s.x0)
	var cuts []cut
	var open []*chain
	for y := s.y0; y < s.y1; y++ {
		cuts = s.cuts(y, step, cuts)
		kept := open[:0]
		taken := make([]bool, len(cuts))
		for _, c := range open {
			if at := c.goesOn(y, cuts, taken); at >= 0 {
				c.add(cuts[at])
				taken[at] = true
			}
			if y-c.cuts[len(c.cuts)-1].y <= 2 {
				kept = append(kept, c)
			} else if len(c.cuts) >= acrossRows/2 {
				out = append(out, c)
			}
		}
		open = kept
		for i, q := range cuts {
			if !taken[i] {
				open = append(open, &chain{cuts: []cut{q}, tone: q.colour})
			}
		}
	}
	for _, c := range open {
		if len(c.cuts) >= acrossRows/2 {
			out = append(out, c)
		}
	}
	return
}

// mostOff is how far the beginning of a chain may lie from where another is to be expected there, with what is added for another colour
// and for the gap, px. By eye.
const mostOff = 6.0

// after is which of the chains goes on behind a gap with c, which is chain i; -1 where none does.
func (c *chain) after(in []*chain, i int) int {
	end := c.cuts[len(c.cuts)-1].y
	best, at := mostOff, -1
	for j, d := range in {
		if d == nil || j == i {
			continue
		}
		first := &d.cuts[0]
		gap := first.y - end
		if gap < 1 || gap > stripGap {
			continue
		}
		pa, pb := c.ahead(first.y)
		off := math.Abs(pa-float64(first.a)) + math.Abs(pb-float64(first.b)) + 0.1*float64(away(c.tone, first.colour)) + 0.05*float64(gap)
		if off < best {
			best, at = off, j
		}
	}
	return at
}

// joined puts chains together that go on behind a gap.
func joined(in []*chain) []*chain {
	for i, c := range in {
		if c == nil {
			continue
		}
		for at := c.after(in, i); at >= 0; at = c.after(in, i) {
			c.cuts, c.tone = append(c.cuts, in[at].cuts...), in[at].tone
			in[at] = nil
		}
	}
	out := in[:0]
	for _, c := range in {
		if c != nil {
			out = append(out, c)
		}
	}
	return out
}

// goesOn is which of a row's runs, of those that are not taken, goes on with the chain; -1 where none does.
func (c *chain) goesOn(y int, cuts []cut, taken []bool) int {
	best, at := float32(stripTone), -1
	pa, pb := c.ahead(y)
	for i := range cuts {
		q := &cuts[i]
		da, db := math.Abs(float64(q.a)-pa), math.Abs(float64(q.b)-pb)
		if taken[i] || da > stripShift || db > stripShift {
			continue
		}
		if d := away(q.colour, c.tone) + float32(2*(da+db)); d < best {
			best, at = d, i
		}
	}
	return at
}

func away(a, b [3]float32) float32 {
	d := [3]float32{a[0] - b[0], a[1] - b[1], a[2] - b[2]}
	return sqrt32(dot3(d, d))
}
