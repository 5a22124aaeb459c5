package leaf

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The cut is the least costly division of all, on graphs small enough to try every one.
func TestCutFocusIsLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 200 {
		n := 2 + r.IntN(8)
		front := make([]float64, n+1)
		for l := 1; l <= n; l++ {
			front[l] = 10 * r.NormFloat64()
		}
		var ties []tie
		for a := 1; a < n; a++ {
			for b := a + 1; b <= n; b++ {
				if r.IntN(3) == 0 {
					ties = append(ties, tie{a: int32(a), b: int32(b), part: 8 * r.Float64()})
				}
			}
		}
		cost := func(behind []bool) (c float64) {
			for l := 1; l <= n; l++ {
				if behind[l] {
					c += max(0, front[l])
				} else {
					c += max(0, -front[l])
				}
			}
			for _, t := range ties {
				if behind[t.a] != behind[t.b] {
					c += t.part
				}
			}
			return
		}
		best := math.Inf(1)
		all := make([]bool, n+1)
		for k := range 1 << n {
			for l := 1; l <= n; l++ {
				all[l] = k>>(l-1)&1 != 0
			}
			best = min(best, cost(all))
		}
		assert.InDelta(t, best, cost(cutFocus(front, ties)), 1e-4)
	}
}

func TestCutFocusWithoutEvidenceIsFront(t *testing.T) {
	assert.Equal(t, []bool{false, false, false, true}, cutFocus([]float64{0, 0, 0, -1}, []tie{{a: 1, b: 2, part: 5}}))
}

// Regions whose textures scatter about two levels are told apart by the model learnt from them, also where the first
// division was wrong about some; where the levels are the same, texture says nothing.
func TestTextureModel(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	fs := make([]focusOf, 81)
	behind := make([]bool, 81)
	for l := 1; l <= 80; l++ {
		level := -0.8
		if l > 50 {
			level = -1.9
		}
		fs[l] = focusOf{size: 300, texN: 200, texture: level + 0.3*r.NormFloat64()}
		behind[l] = l > 50 == (l%10 != 0) // one in ten is wrong
	}
	m := learnTexture(fs, behind)
	require.True(t, m.ok)
	wrong := 0
	for l := 1; l <= 80; l++ {
		if (m.front(&fs[l]) < 0) != (l > 50) {
			wrong++
		}
	}
	assert.LessOrEqual(t, wrong, 4)
	rough, smooth := focusOf{texN: 200, texture: 3}, focusOf{texN: 200, texture: -9}
	assert.Positive(t, m.front(&rough), "rougher than any in front")
	assert.Negative(t, m.front(&smooth), "smoother than any behind")
	small := focusOf{texN: 20, texture: 3}
	assert.Less(t, m.front(&small), m.front(&rough), "a small region says less")
	for l := range fs {
		fs[l].texture = -1 + 0.3*r.NormFloat64()
	}
	m = learnTexture(fs, behind)
	assert.Zero(t, m.front(&rough))
}

// The same stripes, once as a lens in focus shows them and once blurred: the texture falls by far more than a region's
// scatter; stripes of twice the contrast in focus change it less.
func TestRegionTextureSeesBlurNotContrast(t *testing.T) {
	at := func(contrast, sigma float64) float64 {
		r := rand.New(rand.NewPCG(9, 4))
		const w, h = 240, 120
		p := make([]float32, w*h)
		for x := range w { // veins of many widths, each with its own lightness
			v := float32(0)
			for _, period := range []float64{7, 11, 19, 31} {
				v += float32(math.Sin(2 * math.Pi * float64(x) / period))
			}
			for y := range h {
				p[y*w+x] = v
			}
		}
		blurBoxes(p, w, h, sigma)
		img := newPicture(w, h, 0, 0, 0)
		for i, v := range p {
			for k := range 3 {
				img.Pix[3*i+k] = uint8(math.Round(90 + contrast*float64(v) + r.NormFloat64()))
			}
		}
		in := Input{Img: img, EdgeSpreadPx: 1.8}
		g := &grid{w: w, h: h, k: 1, L: make([]float32, w*h), A: make([]float32, w*h), B: make([]float32, w*h)}
		label, m := make([]int32, w*h), make([]uint8, w*h)
		for i := range label {
			label[i], m[i] = 1, 1
		}
		seen := focusSeen{}
		seen.inside, seen.fine, seen.coarse = textures(&in, g, m, make([]float32, w*h))
		fs := seen.of(label, 1)
		require.Greater(t, fs[1].texN, w*h/2)
		return fs[1].texture
	}
	sharp, strong, blurred := at(4, 0.6), at(8, 0.6), at(8, 3)
	t.Logf("in focus %.2f, with twice the contrast %.2f, that out of focus %.2f", sharp, strong, blurred)
	assert.Less(t, blurred, sharp-0.7, "out of focus, though of twice the contrast")
	assert.Greater(t, strong, blurred+1)
}

// A scrap and a brown thing beside what stands behind go with it; a leaf does not, nor a scrap that touches nothing behind.
func TestLeaveRims(t *testing.T) {
	g := &grid{w: 40, h: 10}
	label := make([]int32, 400)
	fill := func(l int32, x0, x1 int) {
		for y := 2; y < 8; y++ {
			for x := x0; x < x1; x++ {
				label[y*40+x] = l
			}
		}
	}
	fill(1, 1, 10)  // a leaf
	fill(2, 10, 20) // behind it
	fill(3, 20, 22) // a scrap of its rim
	fill(4, 24, 26) // a scrap by itself
	fill(5, 28, 30) // behind
	fill(6, 30, 38) // a brown thing beside it
	cls := make([]uint8, len(label))
	for i, l := range label {
		switch {
		case l == 6:
			cls[i] = Brown
		case l > 0:
			cls[i] = Green
		}
	}
	behind := []bool{false, false, true, false, false, true, false}
	leaveRims(g, cls, label, behind, []float64{0, 90, -50, 3, 3, -9, 90})
	assert.Equal(t, []bool{false, false, true, true, false, true, true}, behind)
}

// Basins cover the tissue, every piece of it, and never reach over an edge.
func TestBasinsStopAtEdges(t *testing.T) {
	const w, h = 60, 40
	g := &grid{w: w, h: h, L: make([]float32, w*h), A: make([]float32, w*h), B: make([]float32, w*h)}
	m := make([]uint8, w*h)
	r := rand.New(rand.NewPCG(8, 8))
	for y := range h {
		for x := range w {
			i := y*w + x
			g.L[i] = 40 + 0.3*float32(r.NormFloat64())
			if x >= 30 {
				g.L[i] += 8
			}
			if y < 30 || (x < 3 && y > 36) {
				m[i] = 1
			}
		}
	}
	label, n := basins(g, m, steepness(g, m))
	n = joinBasins(label, n, bordersOf(g, label), joinStep, make([]float64, n+1))
	sides := make([][2]int, n+1)
	for i, l := range label {
		assert.Equal(t, m[i] != 0, l > 0)
		switch x, y := i%w, i/w; {
		case y < 2: // the gradient is not known on the frame
		case x < 29:
			sides[l][0]++
		case x > 30:
			sides[l][1]++
		}
	}
	for l := 1; l <= n; l++ {
		assert.Zero(t, min(sides[l][0], sides[l][1]), "region %d", l)
	}
	assert.Equal(t, 3, n)
}

// Pixels of one junction count once, whatever their order; junctions of other parts and farther ones stand alone.
func TestMeanTurns(t *testing.T) {
	js := []junction{{1, 10, 10, 0.2}, {1, 12, 11, 0.6}, {2, 11, 10, -1}, {1, 30, 10, 0.5}, {1, 14, 12, 1}}
	for range 2 {
		got := map[[2]float64]bool{}
		for _, j := range meanTurns(js, 3) {
			got[[2]float64{float64(j.part), math.Round(100 * j.turn)}] = true
		}
		assert.Equal(t, map[[2]float64]bool{{1, 60}: true, {2, -100}: true, {1, 50}: true}, got)
		slices.Reverse(js)
	}
}
