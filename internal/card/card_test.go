package card_test

import (
	"math"
	"math/bits"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
)

func TestMarkerCorners(t *testing.T) {
	// The card's definition: side, id, top-left corner in mm.
	cases := []struct {
		name string
		id   int
		side card.Side
		x, y float64
	}{
		{"L top left", 575, card.SideLeaf, 5, 5},
		{"L top middle", 576, card.SideLeaf, 62, 5},
		{"L top right", 577, card.SideLeaf, 119, 5},
		{"L bottom left", 578, card.SideLeaf, 5, 71},
		{"L bottom right", 580, card.SideLeaf, 119, 71},
		{"R top left", 581, card.SideRoot, 5, 5},
		{"R bottom middle", 585, card.SideRoot, 62, 71},
		{"R bottom right", 586, card.SideRoot, 119, 71},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, side, ok := card.MarkerCornersMM(c.id)
			require.True(t, ok)
			assert.Equal(t, c.side, side)
			assert.Equal(t, [4][2]float64{{c.x, c.y}, {c.x + 24, c.y}, {c.x + 24, c.y + 24}, {c.x, c.y + 24}}, got)
		})
	}
	for _, id := range []int{-1, 0, 1, 574, 587} {
		_, side, ok := card.MarkerCornersMM(id)
		assert.False(t, ok, "id %d is not on the card", id)
		assert.Equal(t, card.NoSide, side)
	}
}

func TestMarkerRowsSpan(t *testing.T) {
	top, _, _ := card.MarkerCornersMM(575)
	bottom, _, _ := card.MarkerCornersMM(578)
	assert.Equal(t, card.MarkerRowsSpanMM, bottom[3][1]-top[0][1])
}

func TestPatches(t *testing.T) {
	all := card.Patches()
	require.Len(t, all, 24)
	assert.Equal(t, "neutral 1", all[0].Name)
	assert.Equal(t, card.MM{X: 10.5, Y: 38.5}, all[0].CentreMM())
	last := all[23]
	assert.Equal(t, card.Patch{Name: "dull purple", Row: "B", K: 11, SRGB: [3]uint8{98, 64, 94}}, last)
	assert.Equal(t, card.MM{X: 137, Y: 50}, last.CentreMM())
	neutral, names := 0, map[string]bool{}
	for _, p := range all {
		names[p.Name] = true
		if p.Neutral() {
			neutral++
		}
	}
	assert.Equal(t, 8, neutral)
	assert.Len(t, names, 24, "names are unique")
}

func TestTicks(t *testing.T) {
	ticks := card.Ticks()
	require.Len(t, ticks, 101)
	assert.Equal(t, card.Tick{XMM: 24, LengthMM: 4.5, Numeral: "0"}, ticks[0])
	assert.Equal(t, card.Tick{XMM: 29, LengthMM: 3}, ticks[5])
	assert.Equal(t, card.Tick{XMM: 57, LengthMM: 2}, ticks[33])
	assert.Equal(t, card.Tick{XMM: 124, LengthMM: 4.5, Numeral: "10"}, ticks[100])
}

// White samples must spread over the card, and a disc about each must hold no ink. The check walks the
// printed areas anew, from the documented figures.
func TestWhiteSamples(t *testing.T) {
	points := card.WhiteSamplesMM()
	require.GreaterOrEqual(t, len(points), 60)
	ink := [][4]float64{{5, 33, 143, 55.5}, {24, 58.6, 124, 66}, {31, 5, 60, 29}, {88, 5, 117, 29}}
	for _, id := range card.MarkerIDs(card.SideLeaf) {
		c, _, _ := card.MarkerCornersMM(id)
		ink = append(ink, [4]float64{c[0][0], c[0][1], c[2][0], c[2][1]})
	}
	quadrant := map[[2]bool]int{}
	for _, p := range points {
		for a := 0.0; a < 2*math.Pi; a += math.Pi / 16 {
			x, y := p.X+math.Cos(a), p.Y+math.Sin(a)
			require.True(t, x > 0 && x < card.WidthMM && y > 0 && y < card.HeightMM, "%v near the edge", p)
			for _, r := range ink {
				require.False(t, x > r[0] && x < r[2] && y > r[1] && y < r[3], "%v touches ink %v", p, r)
			}
		}
		quadrant[[2]bool{p.X < 74, p.Y < 50}]++
	}
	for q, n := range quadrant {
		assert.GreaterOrEqual(t, n, 10, "quadrant %v", q)
	}
	assert.Len(t, quadrant, 4)
}

// rotate turns a code a quarter turn clockwise.
func rotate(code uint64) (out uint64) {
	const n = card.DataCells
	for r := 0; r < n; r++ {
		for c := 0; c < n; c++ {
			out = out<<1 | code>>(n*n-1-(n*(n-1-c)+r))&1
		}
	}
	return out
}

// The 36h11 dictionary is named for this: 36 cells, Hamming distance 11 between any two codes in any
// rotation, and between a code and its own rotations.
func TestDictionaryDistance(t *testing.T) {
	least := 36
	for i, a := range card.Codes {
		require.Less(t, a, uint64(1)<<36)
		require.Equal(t, a, rotate(rotate(rotate(rotate(a)))))
		turned := a
		for turn := 0; turn < 4; turn++ {
			for j, b := range card.Codes {
				if j > i || (j == i && turn > 0) {
					least = min(least, bits.OnesCount64(turned^b))
				}
			}
			turned = rotate(turned)
		}
	}
	assert.Equal(t, 11, least)
}

func TestCellWhite(t *testing.T) {
	for k := 0; k < card.MarkerCells; k++ {
		assert.False(t, card.CellWhite(575, 0, k), "border is black")
		assert.False(t, card.CellWhite(575, k, 7), "border is black")
	}
	// Marker 0 begins 0x2.. = 0010: its third data cell is the first white one.
	assert.False(t, card.CellWhite(0, 1, 2))
	assert.True(t, card.CellWhite(0, 1, 3))
	assert.False(t, card.CellWhite(587, 3, 3), "no such id")
	assert.False(t, card.CellWhite(0, 9, 3), "no such cell")
}

func TestPlantNumbers(t *testing.T) {
	for id, want := range map[int]bool{-1: false, 0: false, 1: true, 574: true, 575: false} {
		assert.Equal(t, want, card.IsPlant(id), "id %d", id)
	}
	assert.Equal(t, [4][2]float64{{4, 4}, {24, 4}, {24, 24}, {4, 24}}, card.TagMarkerCornersMM())
}
