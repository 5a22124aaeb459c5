package leaf

import "math"

// fine is the outline placed on pixels twice as fine as the grid's, or on the photo's own: a mask of the same field.
type fine struct {
	w, h  int
	k     int // one fine pixel is k x k photo pixels
	z     int // one grid pixel is z x z fine pixels
	mask  []uint8
	class []uint8 // 0 outside, else class code + 1; made by paint
}

// linearAt gives the corrected linear colour of a fine pixel: the mean, in linear light, of its photo pixels.
func (f *fine) linearAt(in *Input, x, y int) [3]float32 {
	c := &in.Colour
	if f.k == 1 {
		p := in.Img.Pix[3*(y*in.Img.W+x):]
		r, g, b := c.Linear(p[2], p[1], p[0])
		return [3]float32{r, g, b}
	}
	var sr, sg, sb float32
	for j := range f.k {
		o := 3 * ((y*f.k+j)*in.Img.W + x*f.k)
		row := in.Img.Pix[o : o+3*f.k]
		for i := 0; i < len(row); i += 3 {
			sr += c.Tone[0][row[i+2]]
			sg += c.Tone[1][row[i+1]]
			sb += c.Tone[2][row[i]]
		}
	}
	n := 1 / float32(f.k*f.k)
	r, g, b := c.mix(sr*n, sg*n, sb*n)
	return [3]float32{r, g, b}
}

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

// sureP is the probability from which a place is sure to be leaf; below its complement it is sure to be none. unsureP
// bounds likewise what is decided pixel by pixel wherever it lies.
const (
	sureP   = 0.85
	unsureP = 0.92
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

// refine decides anew, on fine pixels, near the outline and wherever the network is not sure: by the pixel's colour
// against that of sure leaf and sure ground nearby, in linear light, and by the probability. With normal distributions of one
// width about the two colours the evidence of the colour is (F-B).(v-(F+B)/2)/s2 (Fisher's discriminant), to which the
// logit of the probability is added. At a sharp outline the colour rules, and the outline lies where the contrast is
// halved: a lens spreads an edge evenly to both sides in linear light. Where leaf lies before leaf, or ground is of the
// leaf's colour, the network rules.
func refine(in *Input, g *grid, m []uint8, p []float32, z int) *fine {
	f := &fine{w: g.w * z, h: g.h * z, k: g.k / z, z: z}
	f.mask = make([]uint8, f.w*f.h)
	up(f.mask, m, g.w, g.h, z)
	kinds := sureKinds(g, m, p)
	band := undecided(g, m, p)
	lin := newLightRows(in, g)
	weight := nearWeights()
	for y := range g.h {
		for x := range g.w {
			if band[y*g.w+x] == 0 {
				continue
			}
			s := sidesAt(g, lin, kinds, &weight, x, y)
			if one, ok := newSplit(&s); ok {
				two, pattern := s.twoLeafColours(g, lin, kinds, &weight, x, y)
				if pattern {
					f.decide(in, g, p, x, y, &two[0], &two[1])
				} else {
					f.decide(in, g, p, x, y, &one, &one)
				}
			}
		}
	}
	return f
}

// sidesAt sums the colours of sure leaf and sure ground round a grid pixel.
func sidesAt(g *grid, lin *lightRows, kinds []uint8, weight *[2*reach + 1][2*reach + 1]float32, x, y int) (s side) {
	x0, x1 := max(0, x-reach), min(g.w, x+reach+1)
	for yy := max(0, y-reach); yy <= min(g.h-1, y+reach); yy++ {
		s.add(lin.row(yy), x0, kinds[yy*g.w+x0:yy*g.w+x1], weight[yy-y+reach][x0-x+reach:])
	}
	if s.nOut < fewAround || s.nIn < fewAround { // in a notch between leaves, or in a leaf as thin as a grid pixel
		s.addFar(g, lin, kinds, x, y)
	}
	return s
}

// decide sets the fine pixels of a grid pixel, each by that of two splits which it is nearer to.
func (f *fine) decide(in *Input, g *grid, p []float32, x, y int, a, b *split) {
	for j := range f.z {
		for k := range f.z {
			fx, fy := x*f.z+k, y*f.z+j
			v, use := f.linearAt(in, fx, fy), a
			if a != b {
				use = nearer(a, b, v)
			}
			on := uint8(0)
			if use.leaf(v, pAt(p, g.w, g.h, x, y, f.z, k, j)) {
				on = 1
			}
			f.mask[fy*f.w+fx] = on
		}
	}
}

// pAt is the probability at fine pixel (k, j) of grid pixel (x, y).
func pAt(p []float32, w, h, x, y, z, k, j int) float32 {
	v := p[y*w+x]
	if z != 2 {
		return v
	}
	xn, yn := min(w-1, max(0, x+2*k-1)), min(h-1, max(0, y+2*j-1))
	return 0.5625*v + 0.1875*(p[y*w+xn]+p[yn*w+x]) + 0.0625*p[yn*w+xn]
}

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

// sureKinds says of each grid pixel whether it is sure leaf or sure ground, away from the mixed pixels at the outline.
func sureKinds(g *grid, m []uint8, p []float32) []uint8 {
	in, out := make([]uint8, len(m)), make([]uint8, len(m))
	for i, v := range p {
		if v >= sureP {
			in[i] = 1
		}
		if v > 1-sureP {
			out[i] = 1
		}
	}
	core, around := erode(in, g.w, g.h, 1), dilate(out, g.w, g.h, 1)
	kinds := make([]uint8, len(m))
	for i := range kinds {
		switch {
		case core[i] != 0:
			kinds[i] = sureLeaf
		case around[i] == 0 && g.block[i] == 0:
			kinds[i] = sureGround
		}
	}
	return kinds
}

// rimPx is how far inside the outline pixels are decided anew, grid px: gaps between leaflets are narrower than what the network is
// shown.
const rimPx = 2

// undecided marks the grid pixels whose fine pixels are decided anew.
func undecided(g *grid, m []uint8, p []float32) []uint8 {
	core, cover := erode(m, g.w, g.h, rimPx), dilate(m, g.w, g.h, 1)
	band := make([]uint8, len(m))
	for i, v := range p {
		if g.block[i] == 0 && ((cover[i] != 0 && core[i] == 0) || (v > 1-unsureP && v < unsureP)) {
			band[i] = 1
		}
	}
	return band
}

// patterned is how many times smaller the variance of the leaf's colours must become by parting them into a lighter and a darker
// colour to take them for two: parting makes that of an even spread 4 times smaller, of a normal one 2.75 times.
const patterned = 5

// twoLeafColours parts the leaf nearby into a lighter and a darker colour, if it has a pattern, and gives the split of ground from each.
// Between the two there is no leaf: a pixel at the outline is a mixture of ground and one of them.
func (s *side) twoLeafColours(g *grid, lin *lightRows, kinds []uint8, weight *[2*reach + 1][2*reach + 1]float32, x, y int) (two [2]split, ok bool) {
	mean := (s.in[0] + s.in[1] + s.in[2]) / s.wIn
	half := [2]side{*s, *s}
	for i := range half {
		h := &half[i]
		h.in, h.in2, h.wIn, h.nIn = [3]float32{}, 0, 0, 0
	}
	for yy := max(0, y-reach); yy <= min(g.h-1, y+reach); yy++ {
		row := lin.row(yy)
		for xx := max(0, x-reach); xx <= min(g.w-1, x+reach); xx++ {
			if kinds[yy*g.w+xx] != sureLeaf {
				continue
			}
			v, at := row.at(xx), 0
			if v[0]+v[1]+v[2] > mean {
				at = 1
			}
			half[at].one(sureLeaf, v, weight[yy-y+reach][xx-x+reach])
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

// spreadIn is the variance of the leaf's colours, summed over the channels.
func (s *side) spreadIn() float32 {
	m := s.in
	return max(0, s.in2/s.wIn-dot3(m, m)/(s.wIn*s.wIn))
}

// nearer is the split whose mixtures of leaf and ground lie nearer to a colour.
func nearer(a, b *split, v [3]float32) *split {
	toA, _ := a.beside(v)
	if toB, _ := b.beside(v); toA < toB {
		return a
	}
	return b
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

// addFar looks farther for the side of which too little was found near.
func (s *side) addFar(g *grid, lin *lightRows, kinds []uint8, x, y int) {
	needIn, needOut := s.nIn < fewAround, s.nOut < fewAround
	for yy := max(0, y-farReach); yy <= min(g.h-1, y+farReach); yy++ {
		row := lin.row(yy)
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

// up enlarges a mask z times.
func up(dst, src []uint8, w, h, z int) {
	for y := range h {
		row := dst[y*z*w*z : (y*z+1)*w*z]
		from := src[y*w : (y+1)*w]
		if z == 2 {
			for x, v := range from {
				row[2*x], row[2*x+1] = v, v
			}
		} else {
			for x, v := range from {
				for k := range z {
					row[x*z+k] = v
				}
			}
		}
		for j := 1; j < z; j++ {
			copy(dst[(y*z+j)*w*z:(y*z+j+1)*w*z], row)
		}
	}
}

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

// A colour is a third one from 6 to 20 variances away from all mixtures of the two (3 channels: 6 is passed by chance in
// one pixel of nine, 20 in one of six thousand). On 69 drawn scenes such colours were leaf about as often as the network says
// (10,500 pixels); with this addition to its logit about as many are wrongly taken in as left out.
const (
	thirdFrom, thirdTo = 6, 20
	thirdLogit         = 0.1
)

// minSplitSin2 is the squared sine of the angle between two colours from which shadow is told from leaf: 10 degrees.
const minSplitSin2 = 0.03

func dot3(a, b [3]float32) float32 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
