package leaf

/*
#include "tones.h"
*/
import "C"

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
			if v <= 1-undecidedP || v >= undecidedP || g.block[i] != 0 {
				continue
			}
			place := y*r.seen.H/g.h*r.seen.W + x*r.seen.W/g.w
			if r.told[place] != 0 {
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
	leaf, ground [][]toneCount
	evidence     [][]float32
}

// toneCount is a colour that was seen in a cell, and how often: a cell has fewer pixels than 65536.
type toneCount struct{ tone, n uint16 }

func countTones(g *grid, p []float32, b box) *toneCounts {
	t := &toneCounts{w: (g.w + tonePx - 1) / tonePx, h: (g.h + tonePx - 1) / tonePx}
	n := t.w * t.h
	t.leaf, t.ground, t.evidence = make([][]toneCount, n), make([][]toneCount, n), make([][]float32, n)
	leaf, ground := newToneTally(), newToneTally()
	for cy := b.y0 / tonePx; cy*tonePx < b.y1; cy++ {
		for cx := b.x0 / tonePx; cx*tonePx < b.x1; cx++ {
			for y := max(b.y0, cy*tonePx); y < min(b.y1, (cy+1)*tonePx); y++ {
				for x := max(b.x0, cx*tonePx); x < min(b.x1, (cx+1)*tonePx); x++ {
					i := y*g.w + x
					switch {
					case g.block[i] != 0:
					case p[i] > sampleP:
						leaf.add(toneOf(g, i))
					case p[i] < 1-sampleP:
						ground.add(toneOf(g, i))
					}
				}
			}
			k := cy*t.w + cx
			t.leaf[k], t.ground[k] = leaf.take(), ground.take()
		}
	}
	return t
}

// toneTally counts the colours of one cell after another.
type toneTally struct {
	count []uint16
	seen  []uint16 // the colours that were
}

func newToneTally() *toneTally { return &toneTally{count: make([]uint16, tones*tones*tones)} }

func (t *toneTally) add(tone int) {
	if t.count[tone]++; t.count[tone] == 1 {
		t.seen = append(t.seen, uint16(tone))
	}
}

// take gives what was counted, and begins anew.
func (t *toneTally) take() []toneCount {
	out := make([]toneCount, len(t.seen))
	for i, c := range t.seen {
		out[i] = toneCount{c, t.count[c]}
		t.count[c] = 0
	}
	t.seen = t.seen[:0]
	return out
}

// at is, by colour, the logarithm of how much commoner it is on leaf than elsewhere, in a cell and those round it.
func (t *toneCounts) at(cx, cy int) []float32 {
	k := cy*t.w + cx
	if t.evidence[k] == nil {
		on, off := t.share(t.leaf, cx, cy), t.share(t.ground, cx, cy)
		for c, v := range on {
			if v == off[c] { // as where neither was seen, which is nearly everywhere
				on[c] = 0
				continue
			}
			on[c] = float32(math.Log(float64((v + rareTone) / (off[c] + rareTone))))
		}
		t.evidence[k] = on
	}
	return t.evidence[k]
}

// share is, by colour, its share of what was counted round a cell, spread a little over the neighbouring colours.
func (t *toneCounts) share(of [][]toneCount, cx, cy int) []float32 {
	a, b := make([]float32, tones*tones*tones), make([]float32, tones*tones*tones)
	n := float32(1)
	for y := max(0, cy-1); y <= min(t.h-1, cy+1); y++ {
		for x := max(0, cx-1); x <= min(t.w-1, cx+1); x++ {
			for _, c := range of[y*t.w+x] {
				a[c.tone] += float32(c.n)
				n += float32(c.n)
			}
		}
	}
	if n == 1 { // nothing was counted
		return a
	}
	C.pt_leaf_spread_tones(floats(a), C.float(n), floats(b))
	return b
}

// What the C code takes the number of tones for.
var _ = [1]struct{}{}[tones-C.PT_LEAF_TONES]
