package leaf

import (
	"encoding/binary"
	"math"
)

// Brown is the colour of dead tips and margins, but also of clay pots, bark and wood. What tells them apart is whose
// outline goes on where the two meet. At a point where green, brown and the surroundings touch, the outline of a leaf
// with a dead tip runs on smoothly from the green part to the brown one; where a leaf lies over a pot or bark, the
// green part's own outline runs on between green and brown, and the brown thing's outline ends there (a T-junction,
// the classic cue of occlusion).

// border kinds at a junction
const (
	greenOut = iota
	greenBrown
	brownOut
	borderKinds
)

type brownPart struct {
	size, rim, hold int     // pixels; of its outline; of its outline on living tissue
	best, turn      float64 // best and sum over its junctions: how much better the outline runs on into the brown, radians
	junctions       int
	tag             int // pixels next to a tag
	L, chroma       float64
	tip             bool // as wide as its contact with living tissue
	x0, y0, x1, y1  int
}

// judgeBrown clears the brown parts of m that are no leaf, and gives the area of those about which there is doubt.
func judgeBrown(g *grid, m, cls []uint8) (doubtMM2 float64) {
	w, h := g.w, g.h
	kind := make([]uint8, len(m)) // 0 outside, 1 living, 2 brown
	tan := make([]uint8, len(m))
	living := make([]uint8, len(m))
	for i := range m {
		switch {
		case m[i] == 0:
		case cls[i] == Brown:
			tan[i], kind[i] = 1, 2
		default:
			living[i] = 1
		}
	}
	dropUnleafy(g, living, cls)
	for i, v := range living {
		if v != 0 {
			kind[i] = 1
		}
	}
	label, size := parts(tan, w, h, true)
	if len(size) == 1 {
		return 0
	}
	b := bounds(tan, w, h).grow(3, w, h)
	bridge(kind, label, w, h, b)
	ps := make([]brownPart, len(size))
	r := max(6, int(3.2*g.pxPerMM))
	var js []junction
	for y := max(1, b.y0); y < min(h-1, b.y1); y++ {
		for x := max(1, b.x0); x < min(w-1, b.x1); x++ {
			i := y*w + x
			l := label[i]
			if l == 0 {
				continue
			}
			p := &ps[l]
			if p.size == 0 {
				p.x0, p.y0, p.x1, p.y1 = x, y, x, y
			}
			p.x0, p.x1, p.y1 = min(p.x0, x), max(p.x1, x), y
			p.size++
			p.L += float64(g.L[i])
			p.chroma += math.Hypot(float64(g.A[i]), float64(g.B[i]))
			if label[i-1] == l && label[i+1] == l && label[i-w] == l && label[i+w] == l {
				continue
			}
			p.rim++
			if kind[i-1] == 1 || kind[i+1] == 1 || kind[i-w] == 1 || kind[i+w] == 1 {
				p.hold++
			}
			if nearTag(g, x, y) {
				p.tag++
			}
			if isJunction(kind, w, h, x, y) {
				if t, ok := junctionTurn(kind, label, l, w, h, x, y, r); ok {
					js = append(js, junction{l, x, y, t})
				}
			}
		}
	}
	for _, t := range meanTurns(js, r/2) {
		p := &ps[t.part]
		p.turn += t.turn
		if p.junctions == 0 || t.turn > p.best {
			p.best = t.turn
		}
		p.junctions++
	}
	ends := contacts(kind, label, len(ps), w, h, b)
	for l := range ps {
		ps[l].tip = ends[l].tip()
		if ps[l].size > 0 {
			ps[l].L /= float64(ps[l].size)
			ps[l].chroma /= float64(ps[l].size)
		}
	}
	mm2 := 1 / (g.pxPerMM * g.pxPerMM)
	score := decide(ps, mm2, 12*g.pxPerMM)
	for i, l := range label {
		if l != 0 && score[l] <= leastScore {
			m[i] = 0
		}
	}
	for l := range ps {
		if ps[l].size > 0 && math.Abs(score[l]-leastScore) < doubtScore {
			doubtMM2 += float64(ps[l].size) * mm2
		}
	}
	return
}

// leastScore: parts with less are no leaf. On rendered scenes of two makers, also saved anew, turned, halved and
// brightened, dead tissue has 1.65 and more, but for one small tip in a hundred, and everything else 1.45 and less, JPEG
// 60 aside (up to 1.8).
const leastScore = 1.55

// lumpMM2: a lump of bark that shows between leaves is smaller.
const lumpMM2 = 400

// doubtScore: within this of the limit a part may be either, and its area goes into the uncertainty.
const doubtScore = 0.25

// decide gives the scores of the parts. A part near one that is clearly none, and of its colour, is likely another lump of
// the same bark.
func decide(ps []brownPart, mm2, near float64) []float64 {
	score := make([]float64, len(ps))
	for l := range ps {
		score[l] = ps[l].score(mm2)
	}
	out := make([]float64, len(ps))
	for l := range ps {
		s := score[l]
		for k := range ps {
			if k != l && float64(ps[l].size)*mm2 < lumpMM2 && score[k] < 0 && ps[k].size > 20 && ps[l].near(&ps[k], near) && ps[l].alike(&ps[k]) {
				s -= 1
				break
			}
		}
		out[l] = s
	}
	return out
}

func (p *brownPart) near(q *brownPart, d float64) bool {
	dx := max(0, max(float64(q.x0-p.x1), float64(p.x0-q.x1)))
	dy := max(0, max(float64(q.y0-p.y1), float64(p.y0-q.y1)))
	return math.Hypot(dx, dy) < d
}

func (p *brownPart) alike(q *brownPart) bool {
	return math.Abs(p.L-q.L) < 14 && math.Abs(p.chroma-q.chroma) < 8
}

// score weighs what was seen of a brown part. The outline counts most; a broad line shared with living tissue, size
// (bark lies in lumps) and not being in a gap's darkness count with it.
func (p *brownPart) score(mm2 float64) float64 {
	if p.rim == 0 || p.tag*10 > p.rim { // the thing that carries the tag is the pot
		return -5
	}
	hold := float64(p.hold) / float64(p.rim)
	if hold < 0.06 {
		return -5
	}
	score := 3 * (hold - 0.35)
	if p.junctions > 0 {
		outline := 1.5*clamp((p.best+p.turn/float64(p.junctions))/2, -1, 2) - 0.5
		if p.tip { // as wide as its contact: then it is a wavy border that leads the outlines astray
			outline = max(0, outline)
		}
		score += outline
	}
	if hold < enclosed || p.L < leastTipL { // a light patch with green all round is no gap, however small
		score += clamp(0.5*math.Log2(float64(p.size)*mm2/150), -1, 0.5)
	}
	score += clamp((p.L-30)/10, -1, 0.2)
	if p.tip && hold <= mostTipHold && float64(p.size)*mm2 < mostTipMM2 {
		score += tipScore * clamp((p.L-darkTipL)/(leastTipL-darkTipL), 0, 1) * clamp((clayChroma-p.chroma)/(clayChroma-mostTipChroma), 0, 1)
	}
	score += clamp((32-p.chroma)/3, -1.5, 0) // fired clay is more saturated than dead tissue
	return score
}

// A dead tip adds tipScore. It is lighter than bark in a leaf's shade, greyer than fired clay, and no larger than the outer
// half of a large leaf; what is nearly surrounded by green is a patch and no tip, and counts by that.
const (
	tipScore      = 1.5
	mostTipHold   = 0.7
	enclosed      = 0.85 // hold from which a part lies within living tissue
	leastTipL     = 32
	darkTipL      = 28 // from here on down it may as well be bark
	mostTipChroma = 34
	clayChroma    = 38 // from here on up it may as well be fired clay
	mostTipMM2    = 3000
)

// bridge gives to the brown part the line of mixed pixels between brown and green, which is no candidate itself: else it
// would look like ground between the two. Only kind and label change.
func bridge(kind []uint8, label []int32, w, h int, b box) {
	for range 2 {
		type add struct {
			i int
			l int32
		}
		var adds []add
		for y := max(3, b.y0); y < min(h-3, b.y1); y++ {
			for x := max(3, b.x0); x < min(w-3, b.x1); x++ {
				i := y*w + x
				if x+8 < w && !brownBeside(kind, i, w) {
					x += 7
					continue
				}
				if kind[i] != 0 {
					continue
				}
				var l int32
				for _, q := range [4]int{i - 1, i + 1, i - w, i + w} {
					if kind[q] == 2 {
						l = label[q]
					}
				}
				if l == 0 {
					continue
				}
				for _, q := range [12]int{i - 1, i + 1, i - w, i + w, i - 2, i + 2, i - 2*w, i + 2*w, i - 3, i + 3, i - 3*w, i + 3*w} {
					if kind[q] == 1 {
						adds = append(adds, add{i, l})
						break
					}
				}
			}
		}
		for _, a := range adds {
			kind[a.i], label[a.i] = 2, a.l
		}
	}
}

// brownBeside says whether any of the eight pixels from i on has brown (kind 2) beside it; the pixels have neighbours.
func brownBeside(kind []uint8, i, w int) bool {
	const twos = 0x0202020202020202
	at := func(i int) uint64 { return binary.LittleEndian.Uint64(kind[i:]) }
	return (at(i-1)|at(i+1)|at(i-w)|at(i+w))&twos != 0
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

func nearTag(g *grid, x, y int) bool {
	const r = 3
	for _, d := range [4][2]int{{-r, 0}, {r, 0}, {0, -r}, {0, r}} {
		xx, yy := x+d[0], y+d[1]
		if xx >= 0 && yy >= 0 && xx < g.w && yy < g.h && g.block[yy*g.w+xx] == blockTag {
			return true
		}
	}
	return false
}

// isJunction says whether all three kinds lie within two pixels.
func isJunction(kind []uint8, w, h, x, y int) bool {
	var seen [3]bool
	for yy := max(0, y-2); yy <= min(h-1, y+2); yy++ {
		for xx := max(0, x-2); xx <= min(w-1, x+2); xx++ {
			seen[kind[yy*w+xx]] = true
		}
	}
	return seen[0] && seen[1] && seen[2]
}

// junctionTurn compares the two ways in which the green part's outline may go on at (x, y): positive where it runs on
// straighter into the brown part's outline than between green and brown. Not ok where the borders have no clear
// direction there.
func junctionTurn(kind []uint8, label []int32, l int32, w, h, x, y, r int) (float64, bool) {
	var sx, sy, n [borderKinds]float64
	inner := 0.35 * float64(r)
	for yy := max(1, y-r); yy <= min(h-2, y+r); yy++ {
		for xx := max(1, x-r); xx <= min(w-2, x+r); xx++ {
			dx, dy := float64(xx-x), float64(yy-y)
			d := math.Hypot(dx, dy)
			if d > float64(r) || d < inner {
				continue
			}
			i := yy*w + xx
			k := kind[i]
			if k == 0 || (k == 2 && label[i] != l) {
				continue
			}
			for _, q := range [4]int{i - 1, i + 1, i - w, i + w} {
				b := -1
				switch {
				case k == 1 && kind[q] == 0:
					b = greenOut
				case k == 2 && kind[q] == 0:
					b = brownOut
				case k == 1 && kind[q] == 2:
					b = greenBrown
				}
				if b >= 0 {
					sx[b] += dx / d
					sy[b] += dy / d
					n[b]++
				}
			}
		}
	}
	var ux, uy [borderKinds]float64
	for b := range borderKinds {
		if n[b] < float64(r)/2.5 {
			return 0, false
		}
		l := math.Hypot(sx[b], sy[b])
		if l/n[b] < 0.75 { // the border runs both ways or curls
			return 0, false
		}
		ux[b], uy[b] = sx[b]/l, sy[b]/l
	}
	// Two borders that run the same way are the two sides of a sliver, not a junction.
	if ux[greenOut]*ux[greenBrown]+uy[greenOut]*uy[greenBrown] > 0.5 || ux[greenOut]*ux[brownOut]+uy[greenOut]*uy[brownOut] > 0.5 {
		return 0, false
	}
	bend := func(a, b int) float64 { // 0 where b runs on straight from a
		return math.Pi - math.Acos(max(-1, min(1, ux[a]*ux[b]+uy[a]*uy[b])))
	}
	return bend(greenOut, greenBrown) - bend(greenOut, brownOut), true
}
