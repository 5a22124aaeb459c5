package leaf

import (
	"math"

	"phototrack/internal/raster"
)

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

// sureP is the probability from which a place is sure to be leaf; below its complement it is sure to be none. unsureP
// bounds likewise what is decided pixel by pixel wherever it lies.
const (
	sureP   = 0.85
	unsureP = 0.92
)

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
	band := undecided(g, m, p)
	b := bounds(band, g.w, g.h)
	round := &surroundings{in: in, g: g, p: p, kinds: sureKinds(g, p), lin: newLightRing(in, g, b.grow(farReach, g.w, g.h)), weight: nearWeights()}
	var xs []int32
	for y := b.y0; y < b.y1; y++ {
		row := band[y*g.w : (y+1)*g.w]
		xs = xs[:0]
		for x := raster.NextSet(row, 0); x < g.w; x = raster.NextSet(row, x+1) {
			xs = append(xs, int32(x))
		}
		if len(xs) > 0 {
			round.look(y, xs)
			f.decideRow(round, y, xs)
		}
	}
	return f
}

// decideRow sets the fine pixels of some grid pixels of a row that were looked round.
func (f *fine) decideRow(round *surroundings, y int, xs []int32) {
	for k, x := range xs {
		s := round.sidesAt(k, int(x), y)
		if one, ok := newSplit(&s); ok {
			two, pattern := round.twoLeafColours(&s, k)
			if pattern {
				f.decide(round, int(x), y, &two[0], &two[1])
			} else {
				f.decide(round, int(x), y, &one, &one)
			}
		}
	}
}

// decide sets the fine pixels of a grid pixel, each by that of two splits which it is nearer to.
func (f *fine) decide(round *surroundings, x, y int, a, b *split) {
	for j := range f.z {
		for k := range f.z {
			fx, fy := x*f.z+k, y*f.z+j
			v, use := f.linearAt(round.in, fx, fy), a
			if a != b {
				use = nearer(a, b, v)
			}
			on := uint8(0)
			if use.leaf(v, round.pAt(x, y, f.z, k, j)) {
				on = 1
			}
			f.mask[fy*f.w+fx] = on
		}
	}
}

// pAt is the probability at fine pixel (k, j) of the z x z in grid pixel (x, y).
func (r *surroundings) pAt(x, y, z, k, j int) float32 {
	p, w, h := r.p, r.g.w, r.g.h
	v := p[y*w+x]
	if z != 2 {
		return v
	}
	xn, yn := min(w-1, max(0, x+2*k-1)), min(h-1, max(0, y+2*j-1))
	return 0.5625*v + 0.1875*(p[y*w+xn]+p[yn*w+x]) + 0.0625*p[yn*w+xn]
}

// sureKinds says of each grid pixel whether it is sure leaf or sure ground, away from the mixed pixels at the outline.
func sureKinds(g *grid, p []float32) []uint8 {
	in, out := over(p, justBelow(sureP)), over(p, 1-sureP)
	return kindsOf(erode(in, g.w, g.h, 1), dilate(out, g.w, g.h, 1), g.block)
}

// justBelow is the number before a number: what is over it is at least that.
func justBelow(v float32) float32 { return math.Nextafter32(v, 0) }

// rimPx is how far inside the outline pixels are decided anew, grid px: gaps between leaflets are narrower than what the network is
// shown.
const rimPx = 2

// undecided marks the grid pixels whose fine pixels are decided anew.
func undecided(g *grid, m []uint8, p []float32) []uint8 {
	return bandOf(erode(m, g.w, g.h, rimPx), dilate(m, g.w, g.h, 1), g.block, p)
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
