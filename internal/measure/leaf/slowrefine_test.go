package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowRefine decides every fine pixel near the outline as refine's comment says it, looking each colour up anew.
func slowRefine(in *Input, g *grid, m, cls []uint8, z int) []uint8 {
	f := &fine{w: g.w * z, h: g.h * z, k: g.k / z, z: z}
	out := make([]uint8, f.w*f.h)
	for i := range out {
		out[i] = m[i/f.w/z*g.w+i%f.w/z]
	}
	inner, outer := erode(m, g.w, g.h, 2), dilate(m, g.w, g.h, 3)
	core, deep, cover := erode(m, g.w, g.h, 1), erode(m, g.w, g.h, 3), reachOut(m, cls, g.w, g.h)
	for i := range m {
		if cover[i] == 0 || g.block[i] != 0 || core[i] != 0 && (deep[i] != 0 || cls[i] != 0) {
			continue
		}
		x, y := i%g.w, i/g.w
		var s side
		look := func(r int, ground bool) {
			for yy := max(0, y-r); yy <= min(g.h-1, y+r); yy++ {
				for xx := max(0, x-r); xx <= min(g.w-1, x+r); xx++ {
					j := yy*g.w + xx
					p := g.pix[3*j : 3*j+3]
					red, green, blue := in.Colour.Linear(p[2], p[1], p[0])
					v, wt := [3]float32{red, green, blue}, 1/float32(1+(xx-x)*(xx-x)+(yy-y)*(yy-y))
					if ground {
						wt *= wt
					}
					switch {
					case inner[j] != 0 && !ground:
						s.in, s.wIn, s.nIn = axpy(s.in, wt, v), s.wIn+wt, s.nIn+1
					case outer[j] == 0 && g.block[j] == 0:
						s.out, s.wOut, s.nOut = axpy(s.out, wt, v), s.wOut+wt, s.nOut+1
					}
				}
			}
		}
		look(reach, false)
		if s.nOut < 3 {
			look(farReach, true)
		}
		if s.nIn < 3 || s.nOut < 3 {
			continue
		}
		if sp := newSplit(s); sp.ok {
			for j := range z * z {
				fx, fy := x*z+j%z, y*z+j/z
				out[fy*f.w+fx] = 0
				if sp.leaf(f.linearAt(in, fx, fy)) {
					out[fy*f.w+fx] = 1
				}
			}
		}
	}
	return out
}

func TestRefineAgainstEachPixelByItself(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	for _, s := range [][2]int{{4, 2}, {2, 2}, {1, 1}} {
		k, z := s[0], s[1]
		for range 3 {
			w, h := 150, 110
			shape := blobs(rng, w, h, 1)
			in := &Input{Img: newPicture(w*k, h*k, 0, 0, 0), Colour: SRGB(), ScalePxPerMM: 4}
			for y := range h * k {
				for x := range w * k {
					c := [3]uint8{150, 155, 160}
					if shape[y/k*w+x/k] != 0 {
						c = [3]uint8{60, 120, 70}
					}
					for j := range c {
						in.Img.Pix[3*(y*w*k+x)+j] = c[j] + uint8(rng.IntN(24))
					}
				}
			}
			g := newGrid(in, k, newLabTable())
			require.Equal(t, []int{w, h}, []int{g.w, g.h})
			for y := 40; y < 60; y++ { // a card lies in the way
				for x := 50; x < 70; x++ {
					g.block[y*w+x], shape[y*w+x] = blockCard, 0
				}
			}
			cls := blobs(rng, w, h, 4)
			m := closeGaps(shape, w, h, 1)
			want := slowRefine(in, g, m, cls, z)
			got := refine(in, g, m, cls, z)
			require.Equal(t, want, got.mask, "k %d", k)
			plain := make([]uint8, len(want))
			up(plain, m, w, h, z)
			assert.NotEqual(t, plain, want, "some pixels were decided anew")
		}
	}
}
