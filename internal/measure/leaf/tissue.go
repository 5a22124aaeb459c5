package leaf

import (
	"slices"

	"phototrack/internal/raster"
)

// Least chroma at which a pixel of the reduced picture is a candidate for tissue, by class. Grounds and pots are seldom
// green or purple, but wood, clay and sand are weakly yellow and brown, so these must be stronger.
var candidateChroma = [5]float32{0, 8, 14, 9, 13}

const (
	groundReach2  = 9 * 9 // squared colour distance within which a pixel can be ground
	floodReach2   = 6 * 6 // the same for a flood over the ground, which shall not run into brown tissue
	groundStep2   = 6 * 6 // a flood over the ground stops at a step in colour larger than this
	majorGround   = 0.12  // share of the frame's edge from which a green ground is believed
	greyGround2   = 6 * 6
	brownDarkest  = 17 // L*: what is darker is bark or a gap, not dead leaf
	purpleLightst = 62 // L*: lighter red-purples are petals
)

// candidates gives the class code of every grid pixel that may be tissue by its colour alone, else 0.
func candidates(g *grid, f *fastClasses) []uint8 {
	cls := make([]uint8, len(g.L))
	for i, L := range g.L {
		if g.block[i] != 0 {
			continue
		}
		a, b := g.A[i], g.B[i]
		c := f.of(L, a, b)
		if c == 0 {
			continue
		}
		if m := candidateChroma[c]; a*a+b*b < m*m {
			continue
		}
		if (c == Brown && L < brownDarkest) || (c == Purple && L > purpleLightst) || (c == Green && tooBlue(a, b)) || (c == Purple && b < -0.6*abs32(a)) {
			continue
		}
		cls[i] = c
	}
	return majority(cls, g.w, g.h)
}

// tooBlue says that a green is a pot, a tray or the sky: blue-green leaves reach a hue of 200 degrees (as the class table
// says; 204 with the colour fit's error), and greys of a few units of chroma may lie on any side.
func tooBlue(a, b float32) bool { return b < -max(4, 0.45*abs32(a)) }

// majority gives every candidate the class that most candidates of its 5 x 5 neighbourhood have: the colour at a class
// border passes through the hues between, one or two pixels wide, and these are no tissue of their own.
func majority(cls []uint8, w, h int) []uint8 {
	out := make([]uint8, len(cls))
	copy(out, cls)
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			i := y*w + x
			c := cls[i]
			if c == 0 || (cls[i-1] == c && cls[i+1] == c && cls[i-w] == c && cls[i+w] == c) {
				continue
			}
			var n [5]int
			for yy := -2; yy <= 2; yy++ {
				for _, v := range cls[i+yy*w-2 : i+yy*w+3] {
					n[v]++
				}
			}
			best := c
			for k := Green; k <= Brown; k++ {
				if n[k] > n[best] {
					best = k
				}
			}
			out[i] = best
		}
	}
	return out
}

// ground marks, with the number of its colour from 1 on, what hangs together with the frame's edge in one of the
// ground's colours without a step. Where a brown tip lies on a brown bench, the step at its edge is what tells them
// apart; where the same brown is seen nowhere near the frame's edge, it is no ground.
func ground(g *grid, cls []uint8, colours []groundColour) []uint8 {
	out := make([]uint8, len(cls))
	var stack []int32
	w, h := g.w, g.h
	for n := range colours {
		c := &colours[n]
		if c.share < 0.05 || c.v[1]*c.v[1]+c.v[2]*c.v[2] < greyGround2 {
			continue // grey ground is no candidate anyway
		}
		like := func(i int) bool {
			return out[i] == 0 && g.block[i] == 0 && c.away(g.L[i], g.A[i], g.B[i]) < floodReach2 &&
				(cls[i] != Green || c.share > majorGround)
		}
		push := func(i int) {
			if like(i) {
				out[i] = uint8(n + 1)
				stack = append(stack, int32(i))
			}
		}
		for x := range w {
			push(x)
			push((h-1)*w + x)
		}
		for y := range h {
			push(y * w)
			push(y*w + w - 1)
		}
		for len(stack) > 0 {
			p := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			x, y := p%w, p/w
			try := func(q int) {
				dl, da, db := lightWeight*(g.L[p]-g.L[q]), g.A[p]-g.A[q], g.B[p]-g.B[q]
				if dl*dl+da*da+db*db < groundStep2 {
					push(q)
				}
			}
			if x > 0 {
				try(p - 1)
			}
			if x < w-1 {
				try(p + 1)
			}
			if y > 0 {
				try(p - w)
			}
			if y < h-1 {
				try(p + w)
			}
		}
	}
	return out
}

// tissue gives the mask of leaf tissue on the grid, and the area of brown parts that may or may not belong to it.
func tissue(g *grid, cls []uint8, colours []groundColour, set *Settings) (m []uint8, doubtMM2 float64) {
	gr := ground(g, cls, colours)
	m = make([]uint8, len(cls))
	for i, c := range cls {
		if c == 0 || gr[i] != 0 {
			continue
		}
		if c == Green && isGround(g, i, colours) {
			continue
		}
		m[i] = 1
	}
	mm := func(x float64) int { return max(1, int(x*g.pxPerMM+0.5)) }
	mm2 := func(x float64) int { return max(1, int(x*g.pxPerMM*g.pxPerMM+0.5)) }
	seam := seams(g, m, gr, newFastClasses(&set.Classes))
	m = open(m, g.w, g.h, 1)
	doubtMM2 = judgeBrown(g, m, cls)
	for i, v := range seam {
		if v != 0 && cls[i] != Brown && cls[i] != Yellow {
			m[i] = 1
		}
	}
	dropSmall(m, g.w, g.h, mm2(set.MinSpeckMM2))
	m = closeGaps(m, g.w, g.h, mm(0.4))
	fillPassages(g, m, colours)
	fillHoles(m, g.w, g.h, mm2(set.MinHoleMM2))
	for i := range m {
		if g.block[i] != 0 {
			m[i] = 0
		}
	}
	dropUnleafy(g, m, cls)
	return m, doubtMM2
}

// seams gives thin purple margins with what ties them to the green they belong to; nil where there is no purple. Where
// green passes into purple the colour between is nearly grey, a pixel or two wide, and no candidate: a margin beyond it
// would stand alone and be taken out for being thin.
func seams(g *grid, m, gr []uint8, f *fastClasses) []uint8 {
	purple, green := make([]uint8, len(m)), make([]uint8, len(m))
	any := false
	for i, v := range m {
		if v == 0 {
			continue
		}
		switch f.of(g.L[i], g.A[i], g.B[i]) {
		case Purple:
			purple[i], any = 1, true
		case Green:
			green[i] = 1
		}
	}
	if !any {
		return nil
	}
	p, q := dilate(purple, g.w, g.h, 2), dilate(green, g.w, g.h, 2)
	joined := slices.Clone(m)
	for i := range m {
		if p[i] != 0 && q[i] != 0 && g.block[i] == 0 && gr[i] == 0 {
			joined[i] = 1
		}
	}
	return open(joined, g.w, g.h, 1)
}

// fillPassages closes gaps of up to 2 mm that are coloured and no ground: where green passes into purple the colour
// between is nearly grey and no candidate, but it is leaf.
func fillPassages(g *grid, m []uint8, colours []groundColour) {
	shut := closeGaps(m, g.w, g.h, max(1, int(g.pxPerMM+0.5)))
	for i, v := range shut {
		if v == 0 || m[i] != 0 {
			continue
		}
		if a, b := g.A[i], g.B[i]; a*a+b*b > 6*6 && g.L[i] > brownDarkest && !nearGround(g, i, colours) {
			m[i] = 1
		}
	}
}

func nearGround(g *grid, i int, colours []groundColour) bool {
	for n := range colours {
		if colours[n].away(g.L[i], g.A[i], g.B[i]) < groundReach2 {
			return true
		}
	}
	return false
}

func isGround(g *grid, i int, colours []groundColour) bool {
	for n := range colours {
		if c := &colours[n]; c.share > majorGround && c.away(g.L[i], g.A[i], g.B[i]) < groundReach2 {
			return true
		}
	}
	return false
}

// dropUnleafy clears parts with hardly any green or purple in them, unless they are broad and yellow: a stake is
// yellow and narrow.
func dropUnleafy(g *grid, m, cls []uint8) {
	runs, size := stretches(m, g.w, g.h, true)
	green, gold := make([]int, len(size)), make([]int, len(size))
	for _, r := range runs {
		from, to := r.In(g.w)
		var n [Brown + 1]int
		for _, c := range cls[from:to] {
			n[c]++
		}
		green[r.Part] += n[Green] + n[Purple]
		gold[r.Part] += n[Yellow]
	}
	bare := false // of green and purple
	for l, n := range size {
		bare = bare || green[l]*10 < n
	}
	if !bare {
		return
	}
	atCard := besideCard(g, m, runs, len(size))
	core := erode(m, g.w, g.h, max(1, int(4*g.pxPerMM)))
	broad := make([]bool, len(size))
	for _, r := range runs {
		from, to := r.In(g.w)
		broad[r.Part] = broad[r.Part] || raster.NextSet(core[from:to], 0) < to-from
	}
	for _, r := range runs {
		if l := r.Part; green[l]*10 < size[l] && (atCard[l] || !(broad[l] && gold[l]*10 > 3*size[l])) {
			from, to := r.In(g.w)
			clear(m[from:to])
		}
	}
}

// besideCard says which of n parts of m have the card or a tag along a tenth of their extent: what is not green there is the
// card's stand or the pot.
func besideCard(g *grid, m []uint8, runs []raster.Run, n int) []bool {
	touch, rim := make([]int, n), make([]int, n)
	for _, r := range runs {
		if r.Y < 2 || int(r.Y) >= g.h-2 {
			continue
		}
		o := int(r.Y) * g.w
		for x := max(2, int(r.X0)); x < min(g.w-2, int(r.X1)); x++ {
			i := o + x
			if m[i-1] != 0 && m[i+1] != 0 && m[i-g.w] != 0 && m[i+g.w] != 0 {
				continue
			}
			rim[r.Part]++
			for _, q := range [4]int{i - 2, i + 2, i - 2*g.w, i + 2*g.w} {
				if b := g.block[q]; b == blockCard || b == blockTag {
					touch[r.Part]++
					break
				}
			}
		}
	}
	out := make([]bool, n)
	for l := range out {
		out[l] = touch[l]*10 > rim[l]
	}
	return out
}
