package leaf

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/regions"
)

// stakeScene is a broad leaf before a grey wall, and a brown thing 7 px wide from row top to row bottom that leans a little. The network takes
// it for leaf where it passes before the leaf, though less surely, and is sure beside it.
func stakeScene(top, bottom int) (r *found, g *grid, p []float32, thing []bool) {
	const w, h = 300, 300
	g = &grid{w: w, h: h, k: 1, pxPerMM: 2, pix: make([]uint8, 3*w*h), block: make([]uint8, w*h)}
	p, thing = make([]float32, w*h), make([]bool, w*h)
	for i := range p {
		x, y := i%w, i/w
		c := [3]uint8{120, 115, 110}
		p[i] = 0.002
		if x >= 60 && x < 240 && y >= 120 && y < 260 {
			c, p[i] = [3]uint8{50, 110, 60}, 0.98
		}
		if from := 150 + y/20; y >= top && y < bottom && x >= from && x < from+7 {
			c, thing[i] = [3]uint8{50, 75, 95}, true
			p[i] = min(p[i], 0.9)
		}
		for k := range 3 { // as a camera's noise
			g.pix[3*i+k] = c[k] + uint8((x*7+y*13+k*5+x*y)%5)
		}
	}
	r = &found{told: make([]uint8, w*h)}
	r.seen = regions.Map{W: w, H: h, Class: make([]regions.Class, w*h), Apart: make([]float32, w*h)}
	for c := range r.seen.P {
		r.seen.P[c] = make([]float32, w*h)
	}
	for i, v := range p {
		r.seen.P[regions.Leaf][i], r.seen.P[regions.Rest][i] = v, 1-v
	}
	return
}

func takenOut(p []float32, thing []bool, from int) (of, other float64) {
	n := 0
	for i := from * 300; i < len(p); i++ {
		y, x := i/300, i%300
		if y >= 255 || x < 62 || x >= 238 || y < 125 {
			continue
		}
		if thing[i] {
			n++
		}
		if p[i] < 0.5 {
			if thing[i] {
				of++
			} else {
				other++
			}
		}
	}
	return of / float64(max(1, n)), other
}

func TestThingsBeforeTheLeafAreNone(t *testing.T) {
	r, g, p, thing := stakeScene(40, 230)
	r.across(g, p)
	of, other := takenOut(p, thing, 0)
	assert.Greater(t, of, 0.9, "share of the stake")
	assert.Less(t, other, 200., "pixels beside it")
	at := 200*300 + 163
	assert.True(t, thing[at])
	assert.Less(t, r.seen.P[regions.Leaf][at], float32(0.5), "the whole photo's map is told")
	assert.EqualValues(t, 1, r.told[at])
}

// A rib of the leaf, or a stripe, stands nowhere free before the wall.
func TestRibsStayLeaf(t *testing.T) {
	r, g, p, thing := stakeScene(122, 258)
	r.across(g, p)
	of, other := takenOut(p, thing, 0)
	assert.Zero(t, of)
	assert.Zero(t, other)
}

// What the network is as sure of as of both sides is leaf: a stalk goes on as the rib of its blade.
func TestWhatIsSurelyLeafStays(t *testing.T) {
	r, g, p, thing := stakeScene(40, 230)
	for i, v := range thing {
		if v && p[i] > 0.5 {
			p[i] = 0.98
		}
	}
	r.across(g, p)
	of, _ := takenOut(p, thing, 0)
	assert.Zero(t, of)
}

// A pale margin that the network loses has the leaf at one side.
func TestMarginsAreNoThings(t *testing.T) {
	r, g, p, _ := stakeScene(300, 300)
	for y := 60; y < 250; y++ { // the leaf goes on upwards at the right of the margin
		for x := 150; x < 240; x++ {
			i := y*300 + x
			c, v := [3]uint8{50, 110, 60}, float32(0.98)
			if x < 157 {
				c, v = [3]uint8{170, 200, 205}, 0.9
				if y < 120 {
					v = 0.05
				}
			}
			p[i] = v
			for k := range 3 {
				g.pix[3*i+k] = c[k]
			}
		}
	}
	before := append([]float32(nil), p...)
	r.across(g, p)
	assert.Equal(t, before, p)
}
