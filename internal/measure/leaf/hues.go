package leaf

// hue is the colour of a kind of place nearby: its mean in linear light and the variance of a channel.
type hue struct {
	n    float32
	mean [3]float32
	s2   float32
}

// cellPx is the size of the cells, grid px, in which the colours of leaf and of ground are collected.
const cellPx = 16

// away is the squared distance of a colour in variances.
func (h *hue) away(v [3]float32) float32 {
	d := [3]float32{v[0] - h.mean[0], v[1] - h.mean[1], v[2] - h.mean[2]}
	return dot3(d, d) / h.s2
}

// otherTone says whether two colours differ in more than brightness, which light and shade change on a leaf.
func (h *hue) otherTone(o *hue) bool {
	a, b, c := dot3(h.mean, h.mean), dot3(o.mean, o.mean), dot3(h.mean, o.mean)
	return a*b-c*c > minSplitSin2*a*b
}

// cellSums are sums by cell.
type cellSums struct {
	w, h int
	sum  [][5]float32 // red, green, blue, square, pixels
}

func newCellSums(g *grid) cellSums {
	c := cellSums{w: (g.w + cellPx - 1) / cellPx, h: (g.h + cellPx - 1) / cellPx}
	c.sum = make([][5]float32, c.w*c.h)
	return c
}

func (c *cellSums) add(x, y int, v [3]float32) {
	s := &c.sum[y/cellPx*c.w+x/cellPx]
	for k := range 3 {
		s[k] += v[k]
	}
	s[3] += dot3(v, v)
	s[4]++
}

// near is the colour round a cell, from as near as there is enough of it.
func (c *cellSums) near(i, j, reach int, few float32) (h hue, ok bool) {
	for r := 1; r <= reach && h.n < few; r++ {
		var s [5]float32
		for y := max(0, j-r); y <= min(c.h-1, j+r); y++ {
			for _, q := range c.sum[y*c.w+max(0, i-r) : y*c.w+min(c.w, i+r+1)] {
				for k, v := range q {
					s[k] += v
				}
			}
		}
		h.n = s[4]
		if h.n >= few {
			for k := range 3 {
				h.mean[k] = s[k] / h.n
			}
			bb := dot3(h.mean, h.mean)
			h.s2 = max(0, s[3]/h.n-bb)/3 + floorS2 + floorRelS2*bb/3
		}
	}
	return h, h.n >= few
}

// hues are the colours round the cells, each worked out when it is first asked for: most cells hold nothing that asks.
type hues struct {
	sums  cellSums
	reach int
	few   float32
	of    []hue
	known []bool
}

// colours are the colours round all cells.
func (c cellSums) colours(reach int, few float32) *hues {
	return &hues{sums: c, reach: reach, few: few, of: make([]hue, len(c.sum)), known: make([]bool, len(c.sum))}
}

// at is the colour round a cell; n is 0 where there is too little.
func (u *hues) at(cell int) *hue {
	if !u.known[cell] {
		u.known[cell] = true
		if h, ok := u.sums.near(cell%u.sums.w, cell/u.sums.w, u.reach, u.few); ok {
			u.of[cell] = h
		}
	}
	return &u.of[cell]
}
