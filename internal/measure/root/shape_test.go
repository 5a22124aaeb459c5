package root

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
)

// Round pots are found whatever is moulded on them, with their sizes and without; pots that are not round are told by the run
// of their rims.
func TestShapesOfPots(t *testing.T) {
	size := record.Pot{TopMM: 118, BottomMM: 96, HeightMM: 112}
	for name, c := range map[string]struct {
		pot   standing
		round bool
	}{
		"round":              {standing{}, true},
		"straight":           {standing{size: record.Pot{TopMM: 100, BottomMM: 100, HeightMM: 120}}, true},
		"ribs":               {standing{ribs: 24}, true},
		"rings":              {standing{rings: 3}, true},
		"a foot ring":        {standing{footMM: 7, footOut: 3}, true},
		"a foot drawn in":    {standing{footMM: 6, footOut: -3}, true},
		"seen level":         {standing{above: -40, ribs: 12}, true},
		"oval":               {standing{deep: 0.55}, false},
		"oval the other way": {standing{deep: 1.6}, false}, // told where its size is given only
		"square":             {standing{square: true}, false},
		"square with ribs":   {standing{square: true, ribs: 16, size: record.Pot{TopMM: 110, BottomMM: 90, HeightMM: 130}}, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := c.pot
			if !p.size.Known() {
				p.size = size
			}
			p.x, p.y = -90, -15
			in := p.draw()
			for _, known := range []bool{true, false} {
				if !known {
					in.Pot = record.Pot{}
				}
				f, ok := locate(in, nil)
				if !ok {
					assert.False(t, known && c.round, "a round pot of known size is found")
					continue
				}
				why, bad := notRound(in, f, nil)
				t.Logf("known %v: axis %+.1f, rim %+.1f, %.0f %.0f %.0f mm %v", known, (f.wall.Rim[0]+f.wall.Base[0])/2-p.x, f.wall.Rim[1]-p.y, f.pot.TopMM, f.pot.BottomMM, f.pot.HeightMM, why)
				if known || p.deep <= 1 {
					assert.Equal(t, !c.round, bad)
				}
				if c.round {
					assert.InDelta(t, p.x, (f.wall.Rim[0]+f.wall.Base[0])/2, 1.5)
					assert.InDelta(t, p.y, f.wall.Rim[1], 3)
				}
				if c.round && !known {
					assert.InDelta(t, p.size.TopMM, f.pot.TopMM, 8)
				}
			}
		})
	}
}
