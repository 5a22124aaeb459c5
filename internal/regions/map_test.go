package regions_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// picture is grey with a coloured square, as camera values blue, green, red.
func picture(w, h int, square [4]int, bgr [3]uint8) raster.BGR {
	p := raster.NewBGR(w, h)
	for i := range p.Pix {
		p.Pix[i] = 120
	}
	for y := square[1]; y < square[3]; y++ {
		for x := square[0]; x < square[2]; x++ {
			copy(p.Pix[3*(y*w+x):], bgr[:])
		}
	}
	return p
}

func viewOf(p raster.BGR) regions.View {
	card := []record.Point{{X: 10, Y: 10}, {X: 200, Y: 10}, {X: 200, Y: 150}, {X: 10, Y: 150}}
	tag := []record.Point{{X: 300, Y: 400}, {X: 360, Y: 400}, {X: 360, Y: 460}, {X: 300, Y: 460}}
	photo := regions.Photo{Img: p, Small: p, Correct: func([]uint8) {}, Card: card, Tags: [][]record.Point{tag}}
	return photo.View()
}

// TestSizes: both sides are multiples of 64, the longer is 768, and a photo's shape is kept within a few per cent.
func TestSizes(t *testing.T) {
	for _, s := range [][2]int{{4000, 3000}, {3000, 4000}, {4032, 2268}, {1200, 1200}, {5000, 700}} {
		w, h := regions.Size(s[0], s[1])
		assert.Zero(t, w%64)
		assert.Zero(t, h%64)
		assert.Equal(t, regions.LongPx, max(w, h))
		if min(s[0], s[1])*2 > max(s[0], s[1]) {
			assert.InEpsilon(t, float64(s[0])/float64(s[1]), float64(w)/float64(h), 0.06)
		}
	}
}

// TestPlanes: each of the four pixels of a place has its own three planes, the card's polygon its plane, the tag's another.
func TestPlanes(t *testing.T) {
	p := raster.NewBGR(768, 576)
	for y := range p.H {
		for x := range p.W {
			copy(p.Pix[3*(y*p.W+x):], []uint8{uint8(x % 2 * 10), uint8(y % 2 * 20), uint8(x % 2 * y % 2 * 40)})
		}
	}
	v := viewOf(p)
	require.Equal(t, [2]int{384, 288}, [2]int{v.W, v.H})
	n := v.W * v.H
	at := 100*v.W + 200
	for k, want := range [4][3]uint8{{0, 0, 0}, {0, 0, 10}, {0, 20, 0}, {40, 20, 10}} {
		for c, w := range want {
			assert.Equal(t, w, v.Pix[(3*k+c)*n+at], "pixel %d, colour %d", k, c)
		}
	}
	assert.Equal(t, uint8(255), v.Pix[12*n+40*v.W+50], "inside the card")
	assert.Zero(t, v.Pix[12*n+120*v.W+50], "below the card")
	assert.Equal(t, uint8(255), v.Pix[13*n+215*v.W+165], "inside the tag")
	m := v.Mirrored()
	assert.Equal(t, v, m.Mirrored())
	assert.Equal(t, uint8(255), m.Pix[12*n+40*v.W+v.W-1-50])
}

// TestDecode: probabilities add up to 1, corrections go to the pixel they belong to, what is no number is refused.
func TestDecode(t *testing.T) {
	const w, h = 3, 2
	l := make([]float32, regions.Outputs*w*h)
	at := 1*w + 2
	l[int(regions.Leaf)*w*h+at] = 1
	l[(int(regions.Classes)+1)*w*h+at] = 3 // the right upper pixel of the last place
	m, err := regions.Decode(l, w, h, 1)
	require.NoError(t, err)
	for i := range m.Class {
		sum := float32(0)
		for c := range m.P {
			sum += m.P[c][i]
		}
		assert.InDelta(t, 1, sum, 1e-5)
	}
	o := 2*m.W + 5
	assert.InDelta(t, math.Exp(4)/(math.Exp(4)+4), m.P[regions.Leaf][o], 1e-4)
	assert.InDelta(t, math.E/(math.E+4), m.P[regions.Leaf][o-1], 1e-4)
	assert.Equal(t, regions.Leaf, m.Class[o])
	warm, err := regions.Decode(l, w, h, 2)
	require.NoError(t, err)
	assert.InDelta(t, math.Exp(2)/(math.Exp(2)+4), warm.P[regions.Leaf][o], 1e-4, "logits are divided by the temperature")
	l[4] = float32(math.NaN())
	_, err = regions.Decode(l, w, h, 1)
	require.ErrorIs(t, err, regions.ErrLogits)
	_, err = regions.Decode(l[1:], w, h, 1)
	require.ErrorIs(t, err, regions.ErrLogits)
}

// byColour says leaf of green, or of another plant where behind is set, another part of purple where bloom is set, and of nothing else; bias is added to leaf, rest to
// the rest.
type byColour struct {
	bloom  bool
	behind bool
	bias   float32
	rest   float32
	second regions.Seer
}

func (s *byColour) See(v regions.View) (regions.Map, error) {
	n := v.W * v.H
	l := make([]float32, regions.Outputs*n)
	for i := range n {
		r, g := int(v.Pix[i]), int(v.Pix[i+n])
		l[i] = 2 + s.rest
		switch {
		case g > r+10 && s.behind:
			l[int(regions.Other)*n+i] = 5 + s.bias
		case g > r+10:
			l[int(regions.Leaf)*n+i] = 5 + s.bias
		case r > g+10 && s.bloom:
			l[int(regions.Part)*n+i] = 5
		}
	}
	return regions.Decode(l, v.W, v.H, 1)
}

type pair struct{ byColour }

func (p *pair) Second() regions.Seer { return p.second }

// TestLook: the second look is in the mirror, by the second network where there is one; both are averaged, and how far they are apart
// is said.
func TestLook(t *testing.T) {
	green := viewOf(picture(768, 576, [4]int{400, 100, 500, 300}, [3]uint8{40, 160, 50}))
	m, err := regions.Look(&byColour{}, green)
	require.NoError(t, err)
	in := 200*m.W + 450
	assert.Equal(t, regions.Leaf, m.Class[in])
	assert.Equal(t, regions.Rest, m.Class[200*m.W+m.W-1-450], "the mirrored look is turned back")
	assert.InDelta(t, 0, m.Apart[in], 1e-6)
	other := &pair{byColour{second: &byColour{bias: -4}}}
	n, err := regions.Look(other, green)
	require.NoError(t, err)
	assert.Greater(t, n.Apart[in], float32(0.4))
	assert.Less(t, n.P[regions.Leaf][in], m.P[regions.Leaf][in])
}

// three is a pair with a third one that counts how often it is asked.
type three struct {
	pair
	third byColour
	asked int
}

func (s *three) Third() regions.Seer { s.asked++; return &s.third }

// TestThird: a third network is asked about a photo of which the first two are unsure, and of no other. It counts for two thirds, and how far it
// is from the first two is doubt.
func TestThird(t *testing.T) {
	card := viewOf(picture(768, 576, [4]int{400, 100, 500, 300}, [3]uint8{40, 160, 50}))
	sure := &three{pair: pair{byColour{bias: 19, rest: 9, second: &byColour{bias: 19, rest: 9}}}}
	apart := &three{pair: pair{byColour{rest: 1, second: &byColour{bias: -2}}}, third: byColour{bias: 9}}
	without, err := regions.Look(&apart.pair, card)
	require.NoError(t, err)
	_, err = regions.Look(sure, card)
	require.NoError(t, err)
	assert.Zero(t, sure.asked, "there is no doubt")
	m, err := regions.Look(apart, card)
	require.NoError(t, err)
	assert.Positive(t, apart.asked)
	in := 200*m.W + 450
	two := without.P[regions.Leaf][in]
	assert.InDelta(t, two/3+2.0/3, m.P[regions.Leaf][in], 1e-3, "the third one is sure of leaf")
	assert.InDelta(t, 0.38*(1-two+without.Apart[in]), m.Apart[in], 1e-3)
	assert.InDelta(t, 1, sumAt(&m, in), 1e-5)
	assert.Equal(t, regions.Leaf, m.Class[in])
}

func sumAt(m *regions.Map, i int) (sum float32) {
	for c := range m.P {
		sum += m.P[c][i]
	}
	return
}

// TestThirdWithoutACard: whose what grows is the third network says where there is a card; in a photo without one, where all that is near counts, the
// first two.
func TestThirdWithoutACard(t *testing.T) {
	card := viewOf(picture(768, 576, [4]int{400, 100, 500, 300}, [3]uint8{40, 160, 50}))
	bare := card
	bare.Pix = slices.Clone(card.Pix)
	clear(bare.Pix[12*card.W*card.H:][:card.W*card.H])
	s := &three{pair: pair{byColour{rest: 1, second: &byColour{bias: -2}}}, third: byColour{bias: 9, behind: true}}
	m, err := regions.Look(s, card)
	require.NoError(t, err)
	in := 200*m.W + 450
	assert.Equal(t, regions.Other, m.Class[in])
	m, err = regions.Look(s, bare)
	require.NoError(t, err)
	assert.Equal(t, regions.Leaf, m.Class[in])
	assert.Greater(t, m.P[regions.Leaf][in], float32(2.0/3), "the third one is sure that it grows")
	assert.InDelta(t, 1, sumAt(&m, in), 1e-5)
}

// TestPurple: purple that no look knows is seen again as green; purple that was known for a bloom stays one.
func TestPurple(t *testing.T) {
	purple := viewOf(picture(768, 576, [4]int{400, 100, 500, 300}, [3]uint8{110, 40, 120}))
	first, err := (&byColour{}).See(purple)
	require.NoError(t, err)
	_, changed, ok := purple.Purpled(&first)
	require.True(t, ok)
	assert.True(t, changed[100*purple.W+225])
	in := 200*768 + 450
	m, err := regions.Look(&byColour{}, purple)
	require.NoError(t, err)
	assert.Equal(t, regions.Leaf, m.Class[in])
	m, err = regions.Look(&byColour{bloom: true}, purple)
	require.NoError(t, err)
	assert.Equal(t, regions.Part, m.Class[in])
	for i := range first.P[regions.Leaf] {
		first.P[regions.Leaf][i] = 1
	}
	_, _, ok = purple.Purpled(&first)
	assert.False(t, ok, "all of it known for leaf: no third look")
	green := viewOf(picture(768, 576, [4]int{400, 100, 500, 300}, [3]uint8{40, 160, 50}))
	first, err = (&byColour{}).See(green)
	require.NoError(t, err)
	_, _, ok = green.Purpled(&first)
	assert.False(t, ok, "no purple, no third look")
}
