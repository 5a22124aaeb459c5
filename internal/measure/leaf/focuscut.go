package leaf

import (
	"cmp"
	"slices"
)

// divideFocus divides the tissue m into regions that meet along edges, labelled from 1 (0 is outside m), and tells which of
// them stand behind; behind is nil where nothing does. It is the division that fits outlines and texture best while it
// parts neighbours only along sharp borders. How textures differ in this photo is learnt from the division itself, begun
// with the outlines alone; the regions are then made anew, so that none holds places of both textures.
func divideFocus(in *Input, g *grid, m, cls []uint8, seen *focusSeen) (label []int32, behind []bool) {
	steep := steepness(g, m)
	small, k := basins(g, m, steep)
	seen.inside, seen.fine, seen.coarse = textures(in, g, m, steep)
	seen.edges = newEdges(in, g)
	of := seen.of(small, k)
	borders := bordersOf(g, small)
	var tex textureModel
	var fs []focusOf
	var front []float64
	for range 2 {
		front = make([]float64, k+1)
		for l := range of {
			front[l] = of[l].front(&tex)
		}
		label = slices.Clone(small)
		n := joinBasins(label, k, borders, joinStep, front)
		fs = seen.of(label, n)
		ties := tiesOf(linksOf(g, label, seen.edges))
		front = make([]float64, n+1)
		behind = nil
		for range 4 {
			for l := range fs {
				front[l] = fs[l].front(&tex)
			}
			was := behind
			behind = cutFocus(front, ties)
			if slices.Equal(was, behind) {
				break
			}
			tex = learnTexture(fs, behind)
		}
		if !tex.ok {
			break
		}
	}
	leaveRims(g, cls, label, behind, front)
	all, out := 0, 0
	for l := range fs {
		all += fs[l].size
		if behind[l] {
			out += fs[l].size
		}
	}
	if out*100 < leastBehindPercent*all {
		return label, nil // it may be a curled tip, or an edge that the light blurs
	}
	if out*100 > mostBehindPercent*all {
		return label, nil // nothing is in front: then this is the plant, out of focus
	}
	return label, behind
}

// front is how much a region's outline and texture speak for its being in front, in samples of outline; negative: behind.
func (f *focusOf) front(tex *textureModel) float64 {
	return (f.sharp-f.blur)/fullContrast + tex.front(f)
}

// leastBehindPercent is the least share of the tissue that is taken to stand behind.
const leastBehindPercent = 3

// mostBehindPercent is the most: a plant that is measured fills a good part of its photo.
const mostBehindPercent = 95

// tie is what it costs to part two regions.
type tie struct {
	a, b int32
	part float64
}

// tiesOf makes the ties; where a border is more blurred than sharp, parting it costs as much more. They are in the order of
// the regions' numbers, so that the result never depends on chance.
func tiesOf(ls map[pair]*link) []tie {
	ties := make([]tie, 0, len(ls))
	for p, l := range ls {
		ties = append(ties, tie{p.a, p.b, l.part + max(0, l.blur-2*l.sharp)})
	}
	slices.SortFunc(ties, func(x, y tie) int { return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b)) })
	return ties
}

// cutFocus takes the division that costs least, where front is what each region (from 1) pays for being behind, or, if
// negative, for being in front. A region without evidence of its own and without neighbours is in front.
func cutFocus(front []float64, ties []tie) []bool {
	const nothing = 1e-6
	g := newCutGraph(len(front) + 1) // region l is node l + 1
	for l := 1; l < len(front); l++ {
		g.add(0, int32(l+1), max(0, front[l])+nothing, 0)
		g.add(int32(l+1), 1, max(0, -front[l]), 0)
	}
	for _, t := range ties {
		g.add(t.a+1, t.b+1, t.part, t.part)
	}
	side := g.cut()
	behind := make([]bool, len(front))
	for l := 1; l < len(front); l++ {
		behind[l] = !side[l+1]
	}
	return behind
}

// leastFront is the evidence, in samples of outline, from which a piece that only touches what stands behind is a leaf
// of its own in front.
const leastFront = 25.0

// leaveRims moves behind what is left in front beside what stands behind, without a leaf in front that it hangs on: pieces
// of blurred rims, where the ground's own texture may look like a sharp edge, and brown or yellow things, as a stake,
// that were taken for dead tissue of the leaves behind.
func leaveRims(g *grid, cls []uint8, label []int32, behind []bool, front []float64) {
	kept, gone := make([]uint8, len(label)), make([]uint8, len(label))
	for i, l := range label {
		switch {
		case l <= 0:
		case behind[l]:
			gone[i] = 1
		default:
			kept[i] = 1
		}
	}
	piece, size := parts(kept, g.w, g.h, true)
	type seen struct {
		touches bool
		green   int
		front   float64
	}
	pieces, of := make([]seen, len(size)), make([]int32, len(behind))
	near := dilate(gone, g.w, g.h, 1)
	for i, p := range piece {
		if p <= 0 {
			continue
		}
		pieces[p].touches = pieces[p].touches || near[i] != 0
		if c := cls[i]; c == Green || c == Purple {
			pieces[p].green++
		}
		of[label[i]] = p
	}
	for l, p := range of {
		if p > 0 {
			pieces[p].front += front[l]
		}
	}
	for l, p := range of {
		if p > 0 && pieces[p].touches && (pieces[p].front < leastFront || pieces[p].green < size[p]/5) {
			behind[l] = true
		}
	}
}
