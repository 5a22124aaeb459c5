package leaf

import (
	"slices"

	"phototrack/internal/raster"
)

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

// glimpses are what looking through leaves rests on: the probability of leaf, the light of the grid's pixels within a box, and what ground and
// leaf look like round each cell.
type glimpses struct {
	g            *grid
	b            box
	p            []float32
	lin          [][3]float32 // of the box's rows
	ground, leaf *hues        // by cell
}

// seeThrough opens holes: places that the network takes for leaf, such as it takes for a pale patch of one, and that have exactly
// the colour of plain ground seen nearby, unlike the leaf round them, and end sharply. p is changed, and the whole photo's map.
func (r *found) seeThrough(in *Input, g *grid, p []float32) {
	b := bounds(sureOrNot(p), g.w, g.h)
	if b.x1 <= b.x0 || b.y1 <= b.y0 {
		return
	}
	s := &glimpses{g: g, b: b.grow(cellPx*groundReach, g.w, g.h), p: p}
	s.lookAtGround(in)
	same := s.likeGround()
	if !s.unlikeLeaf(same) {
		return
	}
	if hole, some := s.sharpHoles(open(same, g.w, g.h, 1)); some {
		r.openHoles(g, dilate(hole, g.w, g.h, 1), hole, p)
	}
}

// cell is the cell of a grid pixel.
func (s *glimpses) cell(i int) int {
	return i/s.g.w/cellPx*((s.g.w+cellPx-1)/cellPx) + i%s.g.w/cellPx
}

// light is the light of a grid pixel in the box.
func (s *glimpses) light(i int) [3]float32 { return s.lin[i-s.b.y0*s.g.w] }

// lookAtGround takes the light of the pixels, and the colour of what is surely no leaf.
func (s *glimpses) lookAtGround(in *Input) {
	g := s.g
	s.lin = make([][3]float32, g.w*(s.b.y1-s.b.y0))
	sums := newCellSums(g)
	for y := s.b.y0; y < s.b.y1; y++ {
		from, to := y*g.w+s.b.x0, y*g.w+s.b.x1
		in.Colour.linearRow(g.pix[3*from:3*to], s.lin[from-s.b.y0*g.w:to-s.b.y0*g.w])
		for i := from; i < to; i++ {
			if g.block[i] == 0 && s.p[i] < 1-sureP {
				sums.add(i-y*g.w, y, s.light(i))
			}
		}
	}
	s.ground = sums.colours(groundReach, fewGround)
}

// likeGround is, of leaf, what has the colour of the ground nearby; of the rest of it the leaf's colour is taken.
func (s *glimpses) likeGround() []uint8 {
	g := s.g
	same, sums := make([]uint8, len(s.p)), newCellSums(g)
	for y := s.b.y0; y < s.b.y1; y++ {
		for x := s.b.x0; x < s.b.x1; x++ {
			i := y*g.w + x
			if s.p[i] <= 0.5 || g.block[i] != 0 {
				continue
			}
			back := s.ground.at(s.cell(i))
			if back.n > 0 && back.away(s.light(i)) < asGround {
				same[i] = 1
			} else if s.p[i] > sureP {
				sums.add(x, y, s.light(i))
			}
		}
	}
	s.leaf = sums.colours(leafReach, fewLeaf)
	return same
}

// unlikeLeaf leaves those places of same whose colour the leaf there plainly does not have; false where there is none.
func (s *glimpses) unlikeLeaf(same []uint8) (some bool) {
	for i := raster.NextSet(same, 0); i < len(same); i = raster.NextSet(same, i+1) {
		k := s.cell(i)
		back, front := s.ground.at(k), s.leaf.at(k)
		if front.n == 0 || !front.otherTone(back) || back.away(front.mean) < plainly || front.away(back.mean) < plainly/2 ||
			front.away(s.light(i))-back.away(s.light(i)) < 2*surelyThrough {
			same[i] = 0
		} else {
			some = true
		}
	}
	return some
}

// sharpHoles are those pieces of same that are large enough, lie inside the leaf, and end sharply.
func (s *glimpses) sharpHoles(same []uint8) (hole []uint8, some bool) {
	g := s.g
	runs, size := componentRuns(same, g.w, g.h, false)
	if slices.Max(size) < leastHolePx {
		return nil, false
	}
	core := erode(sureOrNot(s.p), g.w, g.h, insidePx)
	pieces := make([]holeRim, len(size))
	for _, r := range runs {
		if y := int(r.Y); y >= s.b.y0+beyondPx && y < s.b.y1-beyondPx {
			s.addRim(&pieces[r.Component], same, core, y*g.w+max(s.b.x0+beyondPx, int(r.X0)), y*g.w+min(s.b.x1-beyondPx, int(r.X1)))
		}
	}
	hole = make([]uint8, len(s.p))
	for _, r := range runs {
		q, n := &pieces[r.Component], size[r.Component]
		if n >= leastHolePx && 2*q.inner > n && float64(q.sharp) >= sharpShare*float64(q.sharp+q.soft) {
			from, to := r.In(g.w)
			for i := from; i < to; i++ {
				hole[i] = 1
			}
			some = true
		}
	}
	return hole, some
}

// holeRim is what is counted of a piece: sides of its pixels at which it ends, and does not end, sharply, and pixels well inside the leaf.
type holeRim struct{ sharp, soft, inner int }

// addRim counts the pixels from..to-1 of a row.
func (s *glimpses) addRim(q *holeRim, same, core []uint8, from, to int) {
	w := s.g.w
	for i := from; i < to; i++ {
		q.inner += int(core[i])
		for _, step := range [4]int{1, -1, w, -w} {
			switch {
			case same[i+step] != 0:
			case s.ends(s.cell(i), i+beyondPx*step):
				q.sharp++
			default:
				q.soft++
			}
		}
	}
}

// ends says whether a pixel beyond a hole's rim is as leaf or as ground round the hole's cell: a highlight would still be fading there.
func (s *glimpses) ends(cell, beyond int) bool {
	leaf, back := s.leaf.at(cell).away(s.light(beyond)), s.ground.at(cell).away(s.light(beyond))
	return s.g.block[beyond] != 0 || leaf < asGround || back < asGround || leaf < back/4
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
