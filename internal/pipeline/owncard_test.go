package pipeline

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/calib"
	"phototrack/internal/card"
	"phototrack/internal/collection"
	"phototrack/internal/colour"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

func readingsText(shift float64) string {
	var b strings.Builder
	b.WriteString("CGATS.17\nILLUMINATION_NAME \"D65\"\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n")
	for _, p := range card.Patches() {
		l := colour.FromSRGB8(p.SRGB[0], p.SRGB[1], p.SRGB[2]).Lab()
		fmt.Fprintf(&b, "\"%s\" %.4f %.4f %.4f\n", p.Name, l.L, l.A, l.B+shift)
	}
	return b.String() + "END_DATA\n"
}

func collectionWith(t *testing.T, cards string, files map[string][]byte) *collection.Collection {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o644))
	}
	write("plants.csv", []byte("number,name\n45,Control\n"))
	write("cards.csv", []byte("from_date,across_mm,down_mm,colour_from,note\n"+cards))
	for name, data := range files {
		write(name, data)
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	require.Len(t, c.Cards, 1, "%v", c.Problems)
	return c
}

func TestColoursOfTheCardInUse(t *testing.T) {
	series := reftest.Path(t, "scenes", "series")
	data, err := os.ReadFile(filepath.Join(series, "045_2026-04_L.jpg"))
	require.NoError(t, err)
	reference, err := os.ReadFile(filepath.Join(series, "045_2026-03_L.jpg"))
	require.NoError(t, err)
	job := Job{Name: "045_2026-04_L.jpg"}
	leafB := func(p record.Photo) float64 {
		q, ok := p.Find(record.LeafB)
		require.True(t, ok, "%v", p.Reasons)
		return q.Value
	}
	nominal := Measure(data, job, collectionWith(t, ",100,90,nominal,\n", nil))
	require.Equal(t, calib.ModeNominal, nominal.Calibration.ColourMode)

	readings := func(shift float64) record.Photo {
		return Measure(data, job, collectionWith(t, ",100,90,card.txt,\n", map[string][]byte{"card.txt": []byte(readingsText(shift))}))
	}
	p := readings(0)
	assert.Equal(t, calib.ModeReadings, p.Calibration.ColourMode)
	assert.InDelta(t, leafB(nominal), leafB(p), 0.05, "readings that are the drawing's colours change nothing")
	shifted := readings(3)
	assert.Greater(t, leafB(shifted), leafB(p)+1, "yellower readings make yellower leaves")
	assert.NotEqual(t, p.SettingsKey, shifted.SettingsKey, "other content, another measurement")
	assert.Equal(t, p.SettingsKey, readings(0).SettingsKey)

	byPhoto := Measure(data, job, collectionWith(t, "2026-01-01,100,90,ref.jpg,\n", map[string][]byte{"ref.jpg": reference}))
	assert.Equal(t, calib.ModeReference, byPhoto.Calibration.ColourMode)
	assert.InDelta(t, leafB(nominal), leafB(byPhoto), 1.5, "the scenes' card has the drawing's colours")

	bad := Measure(data, job, collectionWith(t, ",100,90,card.txt,\n", map[string][]byte{"card.txt": []byte("hello")}))
	assert.True(t, bad.HasReason(gate.CardColours), "%v", bad.Reasons)
	assert.Equal(t, record.Flagged, bad.Status)
	assert.False(t, gate.Counts(bad.Status, bad.Reasons), "numbers on another footing stay out of the series")
	assert.Equal(t, calib.ModeNominal, bad.Calibration.ColourMode)
}
