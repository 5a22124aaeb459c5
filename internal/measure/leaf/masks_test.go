package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The passes in C against what they are said to give.
func TestMasksAgainstPlainGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, n := range []int{1, 15, 1000, 1003} {
		p, apart := make([]float32, n), make([]float32, n)
		core, cover, block := make([]uint8, n), make([]uint8, n), make([]uint8, n)
		limits := []float32{0.5, sureP, 1 - sureP, unsureP, 1 - unsureP, rng.Float32()}
		for i := range p {
			p[i], apart[i] = limits[rng.IntN(len(limits))], rng.Float32()
			core[i], cover[i], block[i] = uint8(rng.IntN(2)), uint8(rng.IntN(2)), uint8(rng.IntN(8)/6)
		}
		leaf, atLeast, open := over(p, 0.5), over(p, justBelow(sureP)), mayBeWrong.marks(p, apart)
		kinds, band := kindsOf(core, cover, block), bandOf(core, cover, block, p)
		for i, v := range p {
			assert.Equal(t, v > 0.5, leaf[i] == 1)
			assert.Equal(t, v >= sureP, atLeast[i] == 1)
			assert.Equal(t, v > mayBeWrong.p && v < 1-mayBeWrong.p || apart[i] > mayBeWrong.apart, open[i] == 1)
			kind := uint8(0)
			switch {
			case core[i] != 0:
				kind = sureLeaf
			case cover[i] == 0 && block[i] == 0:
				kind = sureGround
			}
			assert.Equal(t, kind, kinds[i])
			assert.Equal(t, block[i] == 0 && (cover[i] != 0 && core[i] == 0 || v > 1-unsureP && v < unsureP), band[i] == 1)
		}
	}
}

// What is spread over the tones keeps its sum, but for what runs out at no edge: ends are spread over themselves.
func TestTonesAreSpreadOverTheirNeighbours(t *testing.T) {
	near := toneCounts{w: 1, h: 1}
	at := func(b, g, r int) uint16 { return uint16((b*tones+g)*tones + r) }
	share := near.share([][]toneCount{{{at(0, 7, 15), 30}, {at(3, 3, 3), 9}}}, 0, 0)
	sum := float32(0)
	for _, v := range share {
		sum += v
	}
	assert.InDelta(t, 39.0/40, sum, 1e-6)
	assert.InDelta(t, 9.0/40/8, share[at(3, 3, 3)], 1e-7, "half in each of three directions")
	assert.InDelta(t, 9.0/40/64, share[at(4, 2, 4)], 1e-7)
	assert.InDelta(t, 30.0/40*0.75*0.5*0.75, share[at(0, 7, 15)], 1e-6, "at an end a quarter stays more")
	assert.InDelta(t, 30.0/40*0.25*0.5*0.75, share[at(1, 7, 15)], 1e-6)
	assert.Zero(t, share[at(9, 9, 9)])
}
