package leaf

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

// FoliageMask finds foliage in a photo without a card, in plain sRGB: 255 foliage, 0 not, in the photo's size. There is
// no scale and no focus to go by, so out-of-focus foliage counts too; sizes are shares of the picture. It is what
// measuring falls back on to show a grower something where the card is missing, and how the colour rules are tried on
// photographs that were not made for them.
func FoliageMask(img raster.BGR) raster.Mask {
	out := raster.NewMask(img.W, img.H)
	if img.W < 16 || img.H < 16 || len(img.Pix) != 3*img.W*img.H {
		return out
	}
	in := &Input{Img: img, Colour: SRGB()}
	k := 1
	for max(img.W, img.H)/k > 2048 {
		k++
	}
	g := newGrid(in, k, newLabTable())
	ct := DefaultClasses()
	cls := foliageClasses(g, newFastClasses(&ct))
	var grounds []groundColour
	share := 0.0
	for _, c := range learnBackdrop(g) {
		if c.share > 0.1 && !c.foliage() {
			grounds = append(grounds, c)
			share += c.share
		}
	}
	m := make([]uint8, len(cls))
	n := [5]int{}
	for i, c := range cls {
		if c != 0 && !closeToGround(g, i, grounds, c) {
			m[i] = 1
			n[c]++
		}
	}
	if share > 0.5 { // a plant before a backdrop, not a picture full of foliage
		g.pxPerMM = float64(max(g.w, g.h)) / assumedWidthMM
		if n[Green] > n[Brown] {
			judgeBrown(g, m, cls)
		}
		m = solid(g, m, max(1, int(g.pxPerMM*solidMM)))
	}
	fillHoles(m, g.w, g.h, g.w*g.h/10000)
	dropSmall(m, g.w, g.h, g.w*g.h/4000)
	for y := range img.H {
		for x := range img.W {
			out.Pix[y*img.W+x] = 255 * m[min(g.h-1, y/k)*g.w+min(g.w-1, x/k)]
		}
	}
	return out
}

// SRGB is the colour correction of a photo without a card: its values are taken to be sRGB.
func SRGB() (c Colour) {
	for i := range 3 {
		for v := range 256 {
			c.Tone[i][v] = float32(colour.LinearOf8[v])
		}
		c.Mix[i][i] = 1
	}
	return
}

// closeToGround is nearGround with a smaller reach for green: without a card the colours are a camera's, and a pale leaf
// is not far from a pale cloth in the shade.
func closeToGround(g *grid, i int, colours []groundColour, class uint8) bool {
	reach := float32(groundReach2)
	if class == Green {
		reach = float32(greenReach * greenReach)
	}
	for n := range colours {
		if colours[n].away(g.L[i], g.A[i], g.B[i]) < reach {
			return true
		}
	}
	return false
}

const (
	// assumedWidthMM stands in for the scale: a potted plant before a backdrop fills about this width.
	assumedWidthMM = 400
	// solidMM is half the width of the narrowest part that is taken for a leaf before a backdrop.
	solidMM = 1.6
	// busySteep is the mean colour gradient, CIELAB per px over a box of 2 busyBox + 1 px, from which a place is print or
	// weave and not the inside of a leaf.
	busySteep = 3.3
	busyBox   = 4
	// greenReach is the colour distance within which green can be ground.
	greenReach = 6
)

// solid keeps the broad, even parts of m (wider than 2r, and not small) with their edges: prints and weave of a cloth
// are narrow or busy.
func solid(g *grid, m []uint8, r int) []uint8 {
	w, h := g.w, g.h
	core := erode(m, w, h, r)
	busy := boxMean(steepness(g, m), w, h, busyBox)
	for i, v := range busy {
		if v > busySteep {
			core[i] = 0
		}
	}
	dropSmall(core, w, h, w*h/2000)
	reach := dilate(core, w, h, r+1)
	out := make([]uint8, len(m))
	for i, v := range m {
		out[i] = v & reach[i]
	}
	return out
}

// boxMean is the mean over a square of 2r+1 px; beyond the frame the picture ends.
func boxMean(v []float32, w, h, r int) []float32 {
	sum := make([]float64, (w+1)*(h+1))
	for y := range h {
		run := 0.0
		for x := range w {
			run += float64(v[y*w+x])
			sum[(y+1)*(w+1)+x+1] = sum[y*(w+1)+x+1] + run
		}
	}
	out := make([]float32, len(v))
	for y := range h {
		y0, y1 := max(0, y-r), min(h, y+r+1)
		for x := range w {
			x0, x1 := max(0, x-r), min(w, x+r+1)
			s := sum[y1*(w+1)+x1] - sum[y0*(w+1)+x1] - sum[y1*(w+1)+x0] + sum[y0*(w+1)+x0]
			out[y*w+x] = float32(s / float64((y1-y0)*(x1-x0)))
		}
	}
	return out
}

// foliage says whether a colour of the frame's edge may itself be foliage, or is too dark to have a colour: then
// nothing is told from it.
func (c *groundColour) foliage() bool {
	L, a, b := float64(c.v[0])/lightWeight-16, float64(c.v[1]), float64(c.v[2])
	h := math.Atan2(b, a) * 180 / math.Pi
	chroma := math.Hypot(a, b)
	return L < 25 || (chroma > 18 && h > 95 && h < 190) || (L < 65 && chroma > 10 && h > 20 && h < 190)
}

func foliageClasses(g *grid, f *fastClasses) []uint8 {
	cls := make([]uint8, len(g.L))
	for i, L := range g.L {
		a, b := g.A[i], g.B[i]
		c := f.of(L, a, b)
		c2 := a*a + b*b
		switch {
		case c == 0 || L < 10:
		case c == Green && b > -4 && c2 > 8*8:
			cls[i] = c
		case (c == Yellow || c == Brown) && c2 > 14*14 && L < 85:
			cls[i] = c
		case c == Purple && c2 > 12*12 && L < 55 && b > -0.6*a:
			cls[i] = c
		}
	}
	return cls
}
