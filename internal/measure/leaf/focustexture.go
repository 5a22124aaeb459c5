package leaf

import "math"

// What a lens out of focus does to a surface is to wipe out its fine detail and leave the coarse. How much detail there
// is at all depends on the leaf: a veined one behind may show more of it than a smooth one in front. So the texture of a
// region is its fine detail against its coarse one. Both sizes follow the width of the card's own edges.

// textureNoise is the size of coarse detail, camera values, under which it is noise.
const textureNoise = 0.5

// textures gives where in m texture can be seen, and the square roots of the fine and the coarse detail there.
func textures(in *Input, g *grid, m []uint8, steep []float32) (inside []uint8, fine, coarse []float32) {
	inside = smoothInside(g, m, steep)
	r, d, rCoarse, dCoarse := textureScales(in.EdgeSpreadPx)
	return inside, detail(in, g, inside, d, r), detail(in, g, inside, dCoarse, rCoarse)
}

// textureOf is the texture of a region by the means of the square roots of its detail: the logarithm of the square of the
// fine detail over the coarse. The square is what tells the two best, on plants of rendered scenes in front and behind:
// leaves that are smooth altogether have little of either, and then the fine detail is what noise does not hide.
func textureOf(fine, coarse float64) float64 {
	return math.Log((sqr(sqr(fine)) + 1e-6) / (sqr(coarse) + textureNoise))
}

// textureScales gives half-widths and distances, photo px, at which the fine and the coarse detail are taken: as fine as
// the lens shows, by the blur that its edges have over those of the pixels alone, and 8/3 times that.
func textureScales(edgeSpreadPx float64) (r, d, rCoarse, dCoarse int) {
	blur := math.Sqrt(max(0, sqr(edgeSpreadPx)-sqr(sampledSpread)))
	r = int(math.Round(0.65 * blur))
	d = max(2, 2*r+1)
	dCoarse = max(4, d*8/3)
	return r, d, max(1, dCoarse/4), dCoarse
}

// smoothInside marks the places of m that are not near an edge: of the ground, or of one leaf over another. An edge's own
// focus speaks elsewhere.
func smoothInside(g *grid, m []uint8, steep []float32) []uint8 {
	const (
		limit = 4.0 // CIELAB units per grid pixel; veins are flatter
		near  = 2   // grid pixels
	)
	edge := make([]uint8, len(m))
	for i, v := range m {
		if v == 0 || steep[i] > limit {
			edge[i] = 1
		}
	}
	edge = dilate(edge, g.w, g.h, near)
	for i := range edge {
		edge[i] = 1 - edge[i]
	}
	return edge
}

// detail gives, on the grid, for the pixels of m, the square root of what the mean of the photo's green over a square of
// half-width r differs by from the mean of the four such squares d away. Of the root, a mean is little moved by the few
// edges in a region.
func detail(in *Input, g *grid, m []uint8, d, r int) []float32 {
	out := make([]float32, len(m))
	img := in.Img
	step := max(1, (2*r+1)/4) // of wide squares a part is enough
	n := 2*r/step + 1
	st := 3 * img.W
	square := func(k int) (s int) {
		for y := range n {
			row := img.Pix[k+y*step*st-3*(n/2)*step-(n/2)*step*st:]
			for x := range n {
				s += int(row[3*x*step])
			}
		}
		return
	}
	b := bounds(m, g.w, g.h)
	margin := (d+r)/g.k + 2
	for y := max(margin, b.y0); y < min(g.h-margin, b.y1); y++ {
		for x := max(margin, b.x0); x < min(g.w-margin, b.x1); x++ {
			i := y*g.w + x
			if m[i] == 0 {
				continue
			}
			k := 3*((y*g.k+g.k/2)*img.W+x*g.k+g.k/2) + 1
			v := 4*square(k) - square(k-3*d) - square(k+3*d) - square(k-d*st) - square(k+d*st)
			out[i] = sqrt32(abs32(float32(v)) / float32(4*n*n))
		}
	}
	return out
}

// textureModel is how the texture of regions in front and behind is distributed in a photo.
type textureModel struct {
	mean, sd [2]float64 // of the logarithm; in front, behind
	ok       bool       // they can be told apart
}

// learnTexture gathers the model from regions that are taken to be in front and behind.
func learnTexture(fs []focusOf, behind []bool) (m textureModel) {
	const (
		leastPixels = 30
		leastSD     = 0.25
		leastApart  = 0.35 // a region's own scatter is about 0.25
	)
	var w, sum, sq [2]float64
	for l := 1; l < len(fs); l++ {
		f := &fs[l]
		if f.texN < leastPixels {
			continue
		}
		k := 0
		if behind[l] {
			k = 1
		}
		n := math.Sqrt(float64(f.texN))
		w[k] += n
		sum[k] += n * f.texture
		sq[k] += n * f.texture * f.texture
	}
	if w[0] == 0 || w[1] == 0 {
		return
	}
	for k := range 2 {
		m.mean[k] = sum[k] / w[k]
		m.sd[k] = max(leastSD, math.Sqrt(max(0, sq[k]/w[k]-sqr(m.mean[k]))))
	}
	m.ok = m.mean[0]-m.mean[1] > leastApart
	return
}

// Weight of the texture, in samples of outline, for a likelihood ratio of e and 100 grid pixels inside. It grows with
// size by a power under 1: neighbouring pixels of a leaf are not independent witnesses.
const (
	textureWeight = 2.0
	texturePower  = 0.75
	textureMost   = 6.0 // natural logarithm of the likelihood ratio
)

// front is what a region's texture says for its being in front; negative: for behind.
func (m *textureModel) front(f *focusOf) float64 {
	if !m.ok || f.texN == 0 {
		return 0
	}
	// Beyond the means a region is only more surely what it is, whichever of the two spreads wider.
	v := clamp(f.texture, m.mean[1], m.mean[0])
	like := func(k int) float64 { return -sqr((v-m.mean[k])/m.sd[k])/2 - math.Log(m.sd[k]) }
	return textureWeight * math.Pow(float64(f.texN)/100, texturePower) * clamp(like(0)-like(1), -textureMost, textureMost)
}
