package leaf

import (
	"phototrack/internal/raster"
	"phototrack/internal/regions"
)

// cellPx is the size of the cells, grid px, in which the colours of leaf and of ground are collected.
const cellPx = 16

const (
	// groundReach and leafReach are how many cells away ground and leaf are looked at, at most.
	groundReach, leafReach = 8, 2
	// fewGround and fewLeaf are the fewest pixels from which a colour is taken.
	fewGround, fewLeaf = 120, 40
	// asGround is the squared distance in variances within which a colour is the ground's: of three channels, 99 in 100 are.
	asGround = 11.3
	// plainly is the same for leaf and ground, from which ground is plain enough to be known again.
	plainly = 30
	// surelyThrough is the logarithm of how much likelier the colour must be on ground than on leaf.
	surelyThrough = 5
	// leastHolePx is the smallest hole that is opened, grid px.
	leastHolePx = 12
	// sharpShare is how much of a hole's rim must be as leaf or as ground beyondPx away: a highlight fades, a hole ends.
	sharpShare = 0.75
	// beyondPx is as far as the lens and the camera's colour sampling draw an edge out at this scale, grid px. By eye.
	beyondPx = 3
	// insidePx is how far from the outline more than half of a hole lies, grid px: the outline itself is placed by refine.
	insidePx = 3
	// throughP is the probability of leaf that a hole is left with, and throughSeenP with what it counts as in doubt.
	throughP, throughSeenP = 0.1, 0.16
	// throughApart is what each place of it counts as in doubt.
	throughApart = 0.4
)

// hue is the colour of a kind of place nearby: its mean in linear light and the variance of a channel.
type hue struct {
	n    float32
	mean [3]float32
	s2   float32
}

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

// seeThrough opens holes: places that the network takes for leaf, such as it takes for a pale patch of one, and that have exactly
// the colour of plain ground seen nearby, unlike the leaf round them, and end sharply. p is changed, and the whole photo's map.
func (r *found) seeThrough(in *Input, g *grid, p []float32) {
	b := bounds(sureOrNot(p), g.w, g.h)
	if b.x1 <= b.x0 || b.y1 <= b.y0 {
		return
	}
	b = b.grow(cellPx*groundReach, g.w, g.h)
	lin := make([][3]float32, g.w*g.h)
	ground, leaf := newCellSums(g), newCellSums(g)
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*g.w + x
			if g.block[i] != 0 {
				continue
			}
			q := g.pix[3*i : 3*i+3]
			red, green, blue := in.Colour.Linear(q[2], q[1], q[0])
			lin[i] = [3]float32{red, green, blue}
			if p[i] < 1-sureP {
				ground.add(x, y, lin[i])
			}
		}
	}
	backs := make([]hue, len(ground.sum))
	for j := range ground.h {
		for i := range ground.w {
			if h, ok := ground.near(i, j, groundReach, fewGround); ok {
				backs[j*ground.w+i] = h
			}
		}
	}
	same := make([]uint8, len(p)) // of leaf, what has the ground's colour
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*g.w + x
			if p[i] <= 0.5 || g.block[i] != 0 {
				continue
			}
			back := &backs[y/cellPx*ground.w+x/cellPx]
			if back.n > 0 && back.away(lin[i]) < asGround {
				same[i] = 1
			} else if p[i] > sureP {
				leaf.add(x, y, lin[i])
			}
		}
	}
	leaves := make([]hue, len(leaf.sum))
	for j := range leaf.h {
		for i := range leaf.w {
			if h, ok := leaf.near(i, j, leafReach, fewLeaf); ok {
				leaves[j*leaf.w+i] = h
			}
		}
	}
	any := false
	for i, v := range same {
		if v == 0 {
			continue
		}
		k := i/g.w/cellPx*ground.w + i%g.w/cellPx
		back, front := &backs[k], &leaves[k]
		if front.n == 0 || !front.otherTone(back) || back.away(front.mean) < plainly || front.away(back.mean) < plainly/2 || front.away(lin[i])-back.away(lin[i]) < 2*surelyThrough {
			same[i] = 0
		} else {
			any = true
		}
	}
	if !any {
		return
	}
	same = open(same, g.w, g.h, 1)
	label, size := parts(same, g.w, g.h, false)
	sharp, soft, inner := make([]int, len(size)), make([]int, len(size)), make([]int, len(size))
	core := erode(sureOrNot(p), g.w, g.h, insidePx)
	for y := b.y0 + beyondPx; y < b.y1-beyondPx; y++ {
		for x := b.x0 + beyondPx; x < b.x1-beyondPx; x++ {
			i := y*g.w + x
			if same[i] == 0 {
				continue
			}
			inner[label[i]] += int(core[i])
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if same[i+d[1]*g.w+d[0]] != 0 {
					continue
				}
				o := i + beyondPx*(d[1]*g.w+d[0])
				k := y/cellPx*ground.w + x/cellPx
				if g.block[o] != 0 || leaves[k].away(lin[o]) < asGround || backs[k].away(lin[o]) < asGround ||
					leaves[k].away(lin[o]) < backs[k].away(lin[o])/4 {
					sharp[label[i]]++
				} else {
					soft[label[i]]++
				}
			}
		}
	}
	hole := make([]uint8, len(p))
	any = false
	for i, v := range same {
		l := label[i]
		if v != 0 && size[l] >= leastHolePx && 2*inner[l] > size[l] && float64(sharp[l]) >= sharpShare*float64(sharp[l]+soft[l]) {
			hole[i], any = 1, true
		}
	}
	if !any {
		return
	}
	r.openHoles(g, dilate(hole, g.w, g.h, 1), hole, p)
}

// openHoles sets the probabilities of the holes.
func (r *found) openHoles(g *grid, wide, hole []uint8, p []float32) {
	for i, v := range wide {
		switch {
		case hole[i] != 0:
			p[i] = min(p[i], throughSeenP)
		case v != 0:
			p[i] = min(p[i], 0.5)
		}
	}
	r.takeOver(g, p, wide)
	for i, v := range hole {
		if v != 0 {
			at := i/g.w*r.seen.H/g.h*r.seen.W + i%g.w*r.seen.W/g.w
			r.seen.Apart[at], r.told[at] = max(r.seen.Apart[at], throughApart), 1
			p[i] = min(p[i], throughP)
		}
	}
}

func sureOrNot(p []float32) []uint8 {
	m := make([]uint8, len(p))
	for i, v := range p {
		if v > 0.5 {
			m[i] = 1
		}
	}
	return m
}

// takeOver brings what the grid shows into the map of the whole photo: the probability of leaf. The other classes keep their
// proportions. where bounds it to the places that hold set grid pixels; nil: all.
func (r *found) takeOver(g *grid, p []float32, where []uint8) {
	m := &r.seen
	for y := range m.H {
		gy0, gy1 := y*g.h/m.H, max(y*g.h/m.H+1, (y+1)*g.h/m.H)
		for x := range m.W {
			gx0, gx1 := x*g.w/m.W, max(x*g.w/m.W+1, (x+1)*g.w/m.W)
			set, there := float32(0), where == nil
			for gy := gy0; gy < gy1; gy++ {
				for _, v := range p[gy*g.w+gx0 : gy*g.w+gx1] {
					set += v
				}
				there = there || raster.NextSet(where[gy*g.w+gx0:gy*g.w+gx1], 0) < gx1-gx0
			}
			if there {
				r.setLeaf(y*m.W+x, set/float32((gy1-gy0)*(gx1-gx0)))
			}
		}
	}
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
