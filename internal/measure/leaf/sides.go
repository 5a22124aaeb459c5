package leaf

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

// nearWeights fall with the square of the distance: leaves darken toward their margin, and ground has shadows, so what
// is nearest says most.
func nearWeights() (w [2*reach + 1][2*reach + 1]float32) {
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
	lin    *lightCache
	weight [2*reach + 1][2*reach + 1]float32 // how much a pixel counts by where it lies from the one that is decided
}

// sidesAt sums the colours of sure leaf and sure ground round a grid pixel.
func (r *surroundings) sidesAt(x, y int) (s side) {
	w := r.g.w
	x0, x1 := max(0, x-reach), min(w, x+reach+1)
	for yy := max(0, y-reach); yy <= min(r.g.h-1, y+reach); yy++ {
		s.add(r.lin.row(yy), x0, r.kinds[yy*w+x0:yy*w+x1], r.weight[yy-y+reach][x0-x+reach:])
	}
	if s.nOut < fewAround || s.nIn < fewAround { // in a notch between leaves, or in a leaf as thin as a grid pixel
		r.addFar(&s, x, y)
	}
	return s
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
			s.one(kind, row.at(xx), wt*wt)
		}
	}
}

func (s *side) one(kind uint8, v [3]float32, wt float32) {
	if kind == sureLeaf {
		for c := range v {
			s.in[c] += wt * v[c]
		}
		s.in2 += wt * dot3(v, v)
		s.wIn += wt
		s.nIn++
	} else {
		for c := range v {
			s.out[c] += wt * v[c]
		}
		s.out2 += wt * dot3(v, v)
		s.wOut += wt
		s.nOut++
	}
}

// twoLeafColours parts the leaf nearby into a lighter and a darker colour, if it has a pattern, and gives the split of ground from each.
// Between the two there is no leaf: a pixel at the outline is a mixture of ground and one of them.
func (r *surroundings) twoLeafColours(s *side, x, y int) (two [2]split, ok bool) {
	g := r.g
	mean := (s.in[0] + s.in[1] + s.in[2]) / s.wIn
	half := [2]side{*s, *s}
	for i := range half {
		h := &half[i]
		h.in, h.in2, h.wIn, h.nIn = [3]float32{}, 0, 0, 0
	}
	for yy := max(0, y-reach); yy <= min(g.h-1, y+reach); yy++ {
		row := r.lin.row(yy)
		for xx := max(0, x-reach); xx <= min(g.w-1, x+reach); xx++ {
			if r.kinds[yy*g.w+xx] != sureLeaf {
				continue
			}
			v, h, wt := row.at(xx), &half[0], r.weight[yy-y+reach][xx-x+reach]
			if v[0]+v[1]+v[2] > mean {
				h = &half[1]
			}
			h.in[0] += wt * v[0]
			h.in[1] += wt * v[1]
			h.in[2] += wt * v[2]
			h.in2 += wt * dot3(v, v)
			h.wIn += wt
			h.nIn++
		}
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

// add takes in a stretch of a row from x0 on: kinds says what is there, weight how much it counts. It is one, written out for both kinds:
// most of the time that the outline takes is spent here.
func (s *side) add(r *lightRow, x0 int, kinds []uint8, weight []float32) {
	weight = weight[:len(kinds)]
	have, lin := r.have[x0:][:len(kinds)], r.lin[x0:][:len(kinds)]
	t := *s
	for i, kind := range kinds {
		if kind == 0 {
			continue
		}
		if !have[i] {
			r.learn(x0 + i)
		}
		v, wt := &lin[i], weight[i]
		v0, v1, v2 := v[0], v[1], v[2]
		square := wt * (v0*v0 + v1*v1 + v2*v2)
		if kind == sureLeaf {
			t.in[0] += wt * v0
			t.in[1] += wt * v1
			t.in[2] += wt * v2
			t.in2 += square
			t.wIn += wt
			t.nIn++
		} else {
			t.out[0] += wt * v0
			t.out[1] += wt * v1
			t.out[2] += wt * v2
			t.out2 += square
			t.wOut += wt
			t.nOut++
		}
	}
	*s = t
}
