package leaf

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

// side is the colour just inside and just outside a stretch of the outline.
type side struct {
	in, out   [3]float32 // sums
	wIn, wOut float32
	nIn, nOut int
}

// reach is how far, in grid px, leaf and ground are looked at on both sides of the outline; farReach where there is no
// ground so near.
const (
	reach    = 5
	farReach = 16
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

func axpy(s [3]float32, w float32, v [3]float32) [3]float32 {
	return [3]float32{s[0] + w*v[0], s[1] + w*v[1], s[2] + w*v[2]}
}

// refine moves the outline of a grid mask to where the contrast between leaf and ground is halved. A lens spreads an
// edge evenly to both sides in linear light, so the half level there is the edge; in the camera's own coded values it
// would lie toward the dark side.
func refine(in *Input, g *grid, m, cls []uint8, z int) *fine {
	f := &fine{w: g.w * z, h: g.h * z, k: g.k / z, z: z}
	f.mask = make([]uint8, f.w*f.h)
	up(f.mask, m, g.w, g.h, z)
	inner := erode(m, g.w, g.h, 2)
	outer := dilate(m, g.w, g.h, 3)
	band := make([]uint8, len(m)) // grid pixels whose fine pixels are decided anew
	core, cover := erode(m, g.w, g.h, 1), reachOut(m, cls, g.w, g.h)
	deep := erode(m, g.w, g.h, 3) // what closing added at the rim is decided anew too
	for i := range band {
		if cover[i] != 0 && (core[i] == 0 || (deep[i] == 0 && cls[i] == 0)) && g.block[i] == 0 {
			band[i] = 1
		}
	}
	ground := make([]uint8, len(m)) // what is looked at on both sides: ground, or leaf that is surely none of the edge
	for i, v := range outer {
		if inner[i] != 0 {
			ground[i] = sureLeaf
		} else if v == 0 && g.block[i] == 0 {
			ground[i] = sureGround
		}
	}
	lin := newLightRows(in, g)
	weight := nearWeights()
	for y := range g.h {
		for x := range g.w {
			if band[y*g.w+x] == 0 {
				continue
			}
			var s side
			x0, x1 := max(0, x-reach), min(g.w, x+reach+1)
			for yy := max(0, y-reach); yy <= min(g.h-1, y+reach); yy++ {
				s.add(lin.row(yy), x0, ground[yy*g.w+x0:yy*g.w+x1], weight[yy-y+reach][x0-x+reach:])
			}
			if s.nOut < 3 { // in a notch between leaves: the ground at its mouth
				for yy := max(0, y-farReach); yy <= min(g.h-1, y+farReach); yy++ {
					row := lin.row(yy)
					for xx := max(0, x-farReach); xx <= min(g.w-1, x+farReach); xx++ {
						if j := yy*g.w + xx; outer[j] == 0 && g.block[j] == 0 {
							wt := 1 / float32(1+(xx-x)*(xx-x)+(yy-y)*(yy-y))
							s.out = axpy(s.out, wt*wt, row.at(xx))
							s.wOut += wt * wt
							s.nOut++
						}
					}
				}
			}
			if s.nIn < 3 || s.nOut < 3 {
				continue
			}
			sp := newSplit(s)
			if !sp.ok {
				continue
			}
			for j := range z {
				for k := range z {
					fx, fy := x*z+k, y*z+j
					on := uint8(0)
					if sp.leaf(f.linearAt(in, fx, fy)) {
						on = 1
					}
					f.mask[fy*f.w+fx] = on
				}
			}
		}
	}
	return f
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

// reachOut is the mask and the ring about it in which leaf may still be found: one pixel, and two at purple tissue,
// whose thin margins blend with the ground to a grey that was no candidate.
func reachOut(m, cls []uint8, w, h int) []uint8 {
	out := dilate(m, w, h, 1)
	purple := make([]uint8, len(m))
	for i, c := range cls {
		if c == Purple && m[i] != 0 {
			purple[i] = 1
		}
	}
	more := dilate(purple, w, h, 6)
	two := dilate(out, w, h, 1)
	for i := range out {
		if more[i] != 0 && two[i] != 0 {
			out[i] = 1
		}
	}
	return out
}

// split tells whether a pixel at the outline is leaf. F is the leaf's colour just inside, B the ground's just outside.
// The pixel's place between the two decides at the half: that is sharp, as it lives mostly on lightness, which JPEG
// keeps at full resolution. But a ground in the leaf's own shadow is as dark as leaf. Shadow leaves a colour on
// the line from black through B, so where F and B differ in hue the pixel's distance from that line, as a share of F's
// own, must also say leaf; any other colour of tissue, as a purple margin, is off the line too.
type split struct {
	ok   bool
	a    [3]float32 // place between B (0) and F (1)
	c    float32
	hues bool
	b    [3]float32 // direction of B
	s2   float32    // least squared distance from it
}

func newSplit(s side) (sp split) {
	var f, b [3]float32
	for c := range 3 {
		f[c], b[c] = s.in[c]/s.wIn, s.out[c]/s.wOut
	}
	d := [3]float32{f[0] - b[0], f[1] - b[1], f[2] - b[2]}
	dd := dot3(d, d)
	if dd < 1e-5 {
		return
	}
	for c := range 3 {
		sp.a[c] = d[c] / dd
	}
	sp.c = -dot3(b, d) / dd
	sp.ok = true
	ff, bb, fb := dot3(f, f), dot3(b, b), dot3(f, b)
	if det := ff*bb - fb*fb; det > minSplitSin2*ff*bb {
		n := 1 / sqrt32(bb)
		sp.b = [3]float32{b[0] * n, b[1] * n, b[2] * n}
		sp.s2 = shadowShare * shadowShare * det / bb
		sp.hues = true
	}
	return
}

// minSplitSin2 is the squared sine of the angle between two colours from which shares can be solved for: 10 degrees.
const minSplitSin2 = 0.03

// halfLevel is the place between ground and leaf where the edge is. shadowShare is how much of the leaf's distance from
// the ground's shades a pixel must have.
const (
	halfLevel   = 0.5
	shadowShare = 0.5
)

func (sp *split) leaf(v [3]float32) bool {
	if dot3(v, sp.a)+sp.c <= halfLevel {
		return false
	}
	if !sp.hues {
		return true
	}
	t := dot3(v, sp.b)
	return dot3(v, v)-t*t > sp.s2
}

func dot3(a, b [3]float32) float32 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
