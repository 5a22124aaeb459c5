package leaf

import (
	"math"
	"slices"

	"phototrack/internal/regions"
)

const (
	// undecidedP bounds, with its complement, what is weighed anew.
	undecidedP = 0.99
	// sampleP bounds what is taken for sure.
	sampleP = 0.9
	// tonePx is the side of the cells, grid px, in which colours are counted; those of the eight cells round one count as near.
	tonePx = 48
	// tones is the number of steps of each of the three colours.
	tones = 16
	// rareTone is the share that is given to a colour that was not seen.
	rareTone = 1e-4
	// toneWeight is how much the colour's evidence counts beside the network's. A logistic regression of truth on both, on 139 drawn
	// scenes that were not trained on, gave 0.42 and 0.57: this is their ratio (docs/model-card.md).
	toneWeight = 0.74
)

// byTones weighs what the network is not sure of by its colour: how common it is on sure leaf, and on what is surely none, nearby. A stake that
// is plainly a stake above the leaves has the same colour before them, and the cream margin that is plainly leaf where it is broad has it where
// it is narrow. The network knows no photo but those it was trained on; this learns from the one that is measured. p is changed, and the
// whole photo's map.
func (r *found) byTones(g *grid, p []float32) {
	b := bounds(sureOrNot(p), g.w, g.h)
	if b.x1 <= b.x0 || b.y1 <= b.y0 {
		return
	}
	b = b.grow(tonePx, g.w, g.h)
	near, before := countTones(g, p, b), slices.Clone(r.seen.P[regions.Leaf])
	changed := make([]uint8, len(p))
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*g.w + x
			v := p[i]
			place := y*r.seen.H/g.h*r.seen.W + x*r.seen.W/g.w
			if g.block[i] != 0 || r.told[place] != 0 || v <= 1-undecidedP || v >= undecidedP {
				continue
			}
			e := near.at(x/tonePx, y/tonePx)[toneOf(g, i)]
			if e > 0 {
				e *= r.lifeless(place)
			}
			odds := float64(v/(1-v)) * math.Exp(toneWeight*float64(e))
			p[i], changed[i] = float32(odds/(1+odds)), 1
		}
	}
	r.takeOver(g, p, changed)
	// What the colour settles the two looks need not agree on.
	for i, v := range r.seen.P[regions.Leaf] {
		if was := before[i] * (1 - before[i]); v != before[i] && v*(1-v) < was {
			r.seen.Apart[i] *= sqrt32(v * (1 - v) / was)
		}
	}
}

// noChance is a probability of as good as nothing, which is not divided by.
const noChance = 1e-6

// lifeless is, of what a place may be if it is no leaf, the share of what does not grow. Blooms, roots and other plants can have the leaf's
// colour: against them it says nothing for leaf.
func (r *found) lifeless(i int) float32 {
	m := &r.seen
	dead, grown := m.P[regions.Rest][i]+m.P[regions.Pot][i], m.P[regions.Part][i]+m.P[regions.Other][i]
	return dead / max(noChance, dead+grown)
}

// toneOf is the step of a grid pixel's colour.
func toneOf(g *grid, i int) int {
	q := g.pix[3*i : 3*i+3]
	return (int(q[0])*tones>>8*tones+int(q[1])*tones>>8)*tones + int(q[2])*tones>>8
}

// toneCounts holds, by cell, how often each colour was seen, and the evidence where it was asked for.
type toneCounts struct {
	w, h         int
	leaf, ground [][]uint16 // nil where there is none; a cell has fewer pixels than 65536
	evidence     [][]float32
}

func countTones(g *grid, p []float32, b box) *toneCounts {
	t := &toneCounts{w: (g.w + tonePx - 1) / tonePx, h: (g.h + tonePx - 1) / tonePx}
	n := t.w * t.h
	t.leaf, t.ground, t.evidence = make([][]uint16, n), make([][]uint16, n), make([][]float32, n)
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*g.w + x
			if g.block[i] != 0 {
				continue
			}
			c := &t.ground[y/tonePx*t.w+x/tonePx]
			if p[i] > sampleP {
				c = &t.leaf[y/tonePx*t.w+x/tonePx]
			} else if p[i] >= 1-sampleP {
				continue
			}
			if *c == nil {
				*c = make([]uint16, tones*tones*tones)
			}
			(*c)[toneOf(g, i)]++
		}
	}
	return t
}

// at is, by colour, the logarithm of how much commoner it is on leaf than elsewhere, in a cell and those round it.
func (t *toneCounts) at(cx, cy int) []float32 {
	k := cy*t.w + cx
	if t.evidence[k] == nil {
		on, off := t.share(t.leaf, cx, cy), t.share(t.ground, cx, cy)
		for c, v := range on {
			on[c] = float32(math.Log(float64((v + rareTone) / (off[c] + rareTone))))
		}
		t.evidence[k] = on
	}
	return t.evidence[k]
}

// share is, by colour, its share of what was counted round a cell, spread a little over the neighbouring colours.
func (t *toneCounts) share(of [][]uint16, cx, cy int) []float32 {
	a, b := make([]float32, tones*tones*tones), make([]float32, tones*tones*tones)
	n := float32(1)
	for y := max(0, cy-1); y <= min(t.h-1, cy+1); y++ {
		for x := max(0, cx-1); x <= min(t.w-1, cx+1); x++ {
			for c, v := range of[y*t.w+x] {
				a[c] += float32(v)
				n += float32(v)
			}
		}
	}
	for _, step := range [3]int{1, tones, tones * tones} {
		for c, v := range a {
			lo, hi := v, v
			if c/step%tones > 0 {
				lo = a[c-step]
			}
			if c/step%tones < tones-1 {
				hi = a[c+step]
			}
			b[c] = (lo + 2*v + hi) / (4 * n)
		}
		a, b = b, a
		n = 1
	}
	return a
}
