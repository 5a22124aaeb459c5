package leaf

/*
#include "sides.h"
*/
import "C"

import "unsafe"

// side is what lies on the two sides of a stretch of the outline: sums over sure leaf and sure ground nearby, weighted by
// nearness, of the colour and of its square.
type side struct {
	in, out   [3]float32
	in2, out2 float32
	wIn, wOut float32
	nIn, nOut int
}

// reach is how far, in grid px, leaf and ground are looked at on both sides of the outline; farReach where there is none so
// near.
const (
	reach    = 5
	farReach = 14
	// fewAround is how many pixels of a side must be found there to take its colour from them: the fewest whose spread means something. By eye.
	fewAround = 3
)

// windowWeights are those of the pixels within reach of the one that is decided.
type windowWeights [C.PT_LEAF_WINDOW][C.PT_LEAF_WINDOW]float32

// nearWeights fall with the square of the distance: leaves darken toward their margin, and ground has shadows, so what
// is nearest says most.
func nearWeights() (w windowWeights) {
	for y := range w {
		for x := range w[y] {
			d2 := (x-reach)*(x-reach) + (y-reach)*(y-reach)
			w[y][x] = 1 / float32(1+d2)
		}
	}
	return
}

// surroundings are what is known round the outline, by which pixels on it are decided.
type surroundings struct {
	in     *Input
	g      *grid
	p      []float32 // probability of leaf at each grid pixel
	kinds  []uint8   // sureLeaf, sureGround or 0
	lin    *lightRing
	weight windowWeights
	sums   []C.pt_leaf_side
}

// What the C code takes for the reach and the kinds.
var _ = [1]struct{}{}[reach-C.PT_LEAF_REACH+sureLeaf-C.PT_LEAF_SURE_LEAF+sureGround-C.PT_LEAF_SURE_GROUND]

// look sums the colours of sure leaf and sure ground round some pixels of a row.
func (r *surroundings) look(y int, xs []int32) {
	g := r.g
	for yy := max(0, y-reach); yy <= min(g.h-1, y+reach); yy++ {
		r.lin.row(yy)
	}
	if cap(r.sums) < len(xs) {
		r.sums = make([]C.pt_leaf_side, g.w)
	}
	r.sums = r.sums[:len(xs)]
	f := C.pt_leaf_field{w: C.int32_t(g.w), h: C.int32_t(g.h), ring: C.int32_t(len(r.lin.y))}
	C.pt_leaf_sides(f, (*C.float)(unsafe.Pointer(&r.lin.lin[0])), bytesOf(r.kinds), (*C.float)(unsafe.Pointer(&r.weight)), 2*fewAround,
		C.int32_t(y), (*C.int32_t)(unsafe.Pointer(&xs[0])), C.size_t(len(xs)), &r.sums[0])
}

// sidesAt are the sums about the k-th of those pixels, which lies at (x, y).
func (r *surroundings) sidesAt(k, x, y int) (s side) {
	q := &r.sums[k]
	s.in, s.in2, s.wIn, s.nIn = sumOf(&q.in, q.w_in, q.n_in)
	s.out, s.out2, s.wOut, s.nOut = sumOf(&q.out, q.w_out, q.n_out)
	if s.nOut < fewAround || s.nIn < fewAround { // in a notch between leaves, or in a leaf as thin as a grid pixel
		r.addFar(&s, x, y)
	}
	return s
}

func sumOf(v *[4]C.float, w C.float, n C.int32_t) (sum [3]float32, square, weight float32, count int) {
	return [3]float32{float32(v[0]), float32(v[1]), float32(v[2])}, float32(v[3]), float32(w), int(n)
}

// addFar looks farther for the side of which too little was found near.
func (r *surroundings) addFar(s *side, x, y int) {
	g, kinds := r.g, r.kinds
	needIn, needOut := s.nIn < fewAround, s.nOut < fewAround
	for yy := max(0, y-farReach); yy <= min(g.h-1, y+farReach); yy++ {
		row := r.lin.row(yy)
		for xx := max(0, x-farReach); xx <= min(g.w-1, x+farReach); xx++ {
			kind := kinds[yy*g.w+xx]
			if (kind == sureLeaf && !needIn) || (kind == sureGround && !needOut) || kind == 0 {
				continue
			}
			wt := 1 / float32(1+(xx-x)*(xx-x)+(yy-y)*(yy-y))
			s.one(kind, row[xx], wt*wt)
		}
	}
}

func (s *side) one(kind uint8, v [4]float32, wt float32) {
	if kind == sureLeaf {
		for c := range s.in {
			s.in[c] += wt * v[c]
		}
		s.in2 += wt * v[3]
		s.wIn += wt
		s.nIn++
	} else {
		for c := range s.out {
			s.out[c] += wt * v[c]
		}
		s.out2 += wt * v[3]
		s.wOut += wt
		s.nOut++
	}
}

// twoLeafColours parts the leaf nearby into a lighter and a darker colour, if it has a pattern, and gives the split of ground from each.
// Between the two there is no leaf: a pixel at the outline is a mixture of ground and one of them. k is the pixel's number.
func (r *surroundings) twoLeafColours(s *side, k int) (two [2]split, ok bool) {
	q := &r.sums[k]
	half := [2]side{*s, *s}
	for i := range half {
		h := &half[i]
		h.in, h.in2, h.wIn, h.nIn = sumOf(&q.half[i], q.w_half[i], q.n_half[i])
	}
	a, b := &half[0], &half[1]
	if a.nIn < fewAround || b.nIn < fewAround || patterned*(a.spreadIn()*a.wIn+b.spreadIn()*b.wIn) > s.spreadIn()*(a.wIn+b.wIn) {
		return two, false
	}
	var okA, okB bool
	two[0], okA = newSplit(a)
	two[1], okB = newSplit(b)
	return two, okA && okB
}

// patterned is how many times smaller the variance of the leaf's colours must become by parting them into a lighter and a darker
// colour to take them for two: parting makes that of an even spread 4 times smaller, of a normal one 2.75 times.
const patterned = 5

// spreadIn is the variance of the leaf's colours, summed over the channels.
func (s *side) spreadIn() float32 {
	m := s.in
	return max(0, s.in2/s.wIn-dot3(m, m)/(s.wIn*s.wIn))
}
