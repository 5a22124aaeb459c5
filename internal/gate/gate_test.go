package gate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/card"
	"phototrack/internal/record"
)

func TestRowsAreWhole(t *testing.T) {
	seen := map[record.GateCode]bool{}
	for _, g := range All() {
		assert.False(t, seen[g.Code], "%s stands twice", g.Code)
		seen[g.Code] = true
		for _, text := range []string{g.Name, g.Sentence, g.Hint, g.Limit, g.Why} {
			assert.NotEmpty(t, text, g.Code)
			assert.NotContains(t, text, "%!", g.Code)
		}
		assert.Contains(t, []record.Status{record.Flagged, record.Rejected}, g.Status, g.Code)
	}
}

// A row prints the limit that is tested: so it reads, and what it says "of" is what the card has.
func TestRowsPrintTheirLimits(t *testing.T) {
	for code, want := range map[record.GateCode]string{
		FewMarkers: "2 of 6 markers needed", CardSmall: "1.5 px per mm", Oblique: "45 degrees", Blurred: "edge spread 1.0 mm at the card, at least 2.5 px; of leaves 1.5 mm where that is under 4.0 px",
		ColourLost: "CIEDE2000 median over 6", Gradient: "60 % over 100 mm", NoPlant: "1 cm2 of leaf", TooLarge: "200 megapixels, 400 MB",
		WallBlind: "under 15 % of the wall seen", DateEarly: "1995, or the first plant's date in plants.csv",
	} {
		g, ok := Lookup(code)
		assert.True(t, ok, code)
		assert.Equal(t, want, g.Limit, code)
	}
	assert.Equal(t, card.MarkersPerSide, cardMarkers)
	assert.Len(t, card.Patches(), cardPatches)
}
