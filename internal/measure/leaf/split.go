package leaf

import (
	"math"
)

// split weighs a pixel's colour between sure leaf F and sure ground B.
type split struct {
	a [3]float32 // (F-B)/s2
	c float32    // -(F-B).(F+B)/2/s2
	// trust is how much the network's opinion counts: little where the two colours are far apart against their spread, since
	// there the colour alone places the outline to a fraction of a pixel, and the network's is a pixel wide.
	trust float32
	// Ground in a shadow has a colour on the line from black through B. Where F lies off that line, so must the pixel by half as
	// far as F, or it is ground in the leaf's own shadow: b is the line's direction, off F's distance from it.
	b            [3]float32
	off          float32
	inv          float32    // 1/s2
	ground, d    [3]float32 // B, F-B
	s2, s2Ground float32
	invD         float32 // 1/|F-B|2
	invGround    float32 // 1/|B|2
}

// floorS2 is the variance of a colour, in squared linear light, that noise and texture leave in the smoothest leaf; part of
// it goes with the square of the light.
const (
	floorS2    = 1e-5
	floorRelS2 = 0.004
)

// noLight2 stands for the square of no light at all, linear, where it is divided by.
const noLight2 = 1e-9

func newSplit(s *side) (sp split, ok bool) {
	if s.nIn < fewAround || s.nOut < fewAround {
		return sp, false
	}
	var f, b, d [3]float32
	for c := range 3 {
		f[c], b[c] = s.in[c]/s.wIn, s.out[c]/s.wOut
		d[c] = f[c] - b[c]
	}
	// The wider of the two sides' spread, a channel.
	spread := max(s.in2/s.wIn-dot3(f, f), s.out2/s.wOut-dot3(b, b), 0) / 3
	sp.s2Ground = max(s.out2/s.wOut-dot3(b, b), 0)/3 + floorS2 + floorRelS2*dot3(b, b)/3
	s2 := spread + floorS2 + floorRelS2*max(dot3(f, f), dot3(b, b))/3
	for c := range 3 {
		sp.a[c] = d[c] / s2
		sp.c -= d[c] * (f[c] + b[c]) / 2 / s2
	}
	ff, bb, fb := dot3(f, f), dot3(b, b), dot3(f, b)
	if off2 := ff - fb*fb/max(bb, noLight2); off2 > minSplitSin2*ff {
		n := 1 / sqrt32(bb)
		sp.b, sp.off = [3]float32{b[0] * n, b[1] * n, b[2] * n}, sqrt32(off2)
	}
	sp.s2 = s2
	sp.inv, sp.ground, sp.d, sp.invD = 1/s2, b, d, 1/max(noLight2, dot3(d, d))
	sp.invGround = 1 / max(noLight2, bb)
	apart := dot3(d, d) / s2 / plainApart
	sp.trust = 1 / (1 + apart*apart)
	return sp, true
}

// plainApart is the squared distance of two colours, in variances, from which they are told apart plainly: at 6 one pixel in
// ten is on the wrong side.
const plainApart = 6

// leaf decides a pixel of colour v to which the network gives the probability p.
func (sp *split) leaf(v [3]float32, p float32) bool {
	e := sp.evidence(v)
	l := logit(p)
	third := sp.third(v)
	return (1-third)*(e+sp.trust*l)+third*(l+thirdLogit) > 0
}

// evidence is the logarithm of how much likelier the colour is on leaf than on ground.
func (sp *split) evidence(v [3]float32) float32 {
	e := dot3(v, sp.a) + sp.c
	if sp.off > 0 {
		t := dot3(v, sp.b)
		e = min(e, sp.off*(sqrt32(dot3(v, v)-t*t)-sp.off/2)*sp.inv)
	}
	return e
}

// third is 0 where the colour lies between the two sides', or is that of ground in a shadow, and 1 where it is neither: a
// margin or patch of another colour, of which only the network can say what it belongs to.
func (sp *split) third(v [3]float32) float32 {
	w2, t := sp.beside(v)
	shadow := max(0, min(1, dot3(v, sp.ground)*sp.invGround))
	u := [3]float32{v[0] - shadow*sp.ground[0], v[1] - shadow*sp.ground[1], v[2] - shadow*sp.ground[2]}
	inv := 1 / (sp.s2Ground + t*(sp.s2-sp.s2Ground))
	return max(0, min(1, (min(w2*inv, dot3(u, u)/sp.s2Ground)-thirdFrom)/(thirdTo-thirdFrom)))
}

// beside is the squared distance of a colour from the mixtures of leaf and ground, and how much leaf there is in the nearest of them.
func (sp *split) beside(v [3]float32) (d2, t float32) {
	w := [3]float32{v[0] - sp.ground[0], v[1] - sp.ground[1], v[2] - sp.ground[2]}
	t = max(0, min(1, dot3(w, sp.d)*sp.invD))
	for c := range w {
		w[c] -= t * sp.d[c]
	}
	return dot3(w, w), t
}

// nearer is the split whose mixtures of leaf and ground lie nearer to a colour.
func nearer(a, b *split, v [3]float32) *split {
	toA, _ := a.beside(v)
	if toB, _ := b.beside(v); toA < toB {
		return a
	}
	return b
}

// A colour is a third one from 6 to 20 variances away from all mixtures of the two (3 channels: 6 is passed by chance in
// one pixel of nine, 20 in one of six thousand). On 69 drawn scenes such colours were leaf about as often as the network says
// (10,500 pixels); with this addition to its logit about as many are wrongly taken in as left out.
const (
	thirdFrom, thirdTo = 6, 20
	thirdLogit         = 0.1
)

// minSplitSin2 is the squared sine of the angle between two colours from which shadow is told from leaf: 10 degrees.
const minSplitSin2 = 0.03

// logit is bounded: however sure the network is, a pixel at the outline is also judged by its colour.
func logit(p float32) float32 {
	const (
		most = 3     // odds of 20 to 1; by eye
		none = 0.047 // the probability whose logit is -most
	)
	if p < none {
		return -most
	}
	if p > 1-none {
		return most
	}
	return float32(math.Log(float64(p / (1 - p))))
}

func dot3(a, b [3]float32) float32 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
