package calib

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/cgats"
	"phototrack/internal/colour"
)

func readings(t *testing.T, id func(i int, p card.Patch) string) *cgats.File {
	t.Helper()
	var b strings.Builder
	b.WriteString("CGATS.17\nILLUMINATION_NAME \"D65\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n")
	for i, p := range card.Patches() {
		l := colour.FromSRGB8(p.SRGB[0], p.SRGB[1], p.SRGB[2]).Lab()
		if s := id(i, p); s != "" {
			fmt.Fprintf(&b, "\"%s\" %.4f %.4f %.4f\n", s, l.L, l.A, l.B)
		}
	}
	b.WriteString("END_DATA\n")
	f, err := cgats.Read(strings.NewReader(b.String()))
	require.NoError(t, err)
	return f
}

func TestReadingsAreMatchedToPatches(t *testing.T) {
	for name, id := range map[string]func(int, card.Patch) string{
		"by name":                  func(_ int, p card.Patch) string { return p.Name },
		"by name, other spelling":  func(_ int, p card.Patch) string { return strings.ToUpper(strings.ReplaceAll(p.Name, " ", "_")) },
		"by place":                 func(_ int, p card.Patch) string { return fmt.Sprintf("%s%d", p.Row, p.K+1) },
		"by number":                func(i int, _ card.Patch) string { return fmt.Sprint(i + 1) },
		"by place, zero before it": func(_ int, p card.Patch) string { return fmt.Sprintf("%s %02d", p.Row, p.K+1) },
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadingTargets(readings(t, id))
			require.NoError(t, err)
			for i, want := range NominalTargets() {
				for c := range 3 {
					assert.InDelta(t, want[c], got[i][c], 1e-4)
				}
			}
		})
	}
	_, err := ReadingTargets(readings(t, func(i int, p card.Patch) string { return map[bool]string{true: p.Name}[i < 13] }))
	assert.ErrorIs(t, err, ErrNoPatches)
	_, err = ReadingTargets(readings(t, func(i int, p card.Patch) string { return "red" }))
	assert.ErrorIs(t, err, ErrTwiceReading)
	got, err := ReadingTargets(readings(t, func(i int, p card.Patch) string { return map[bool]string{true: p.Name}[i != 9] }))
	require.NoError(t, err)
	assert.True(t, math.IsNaN(got[9][0]))
	c, why, err := Calibrate(read(t, "series", "045_2026-03_L.jpg").Img, 0, Settings{Targets: got, ColourMode: ModeReadings, Print: TruePrint(0.001)})
	require.NoError(t, err)
	assert.Empty(t, why)
	assert.True(t, math.IsNaN(c.Colour.Residuals[9]), "the patch without a reading is left out")
	assert.Equal(t, ModeReadings, c.Record().ColourMode)
}

// A home print whose patches are off by 8 % in each channel: by the drawing's colours the correction is poor and said
// to be; by a reference photo of the same print, photos under other lights are corrected well.
func TestReferencePhotoMakesAHomePrintGood(t *testing.T) {
	errors := printErrors(3)
	ref := read(t, "series", "045_2026-03_L.jpg")
	targets, err := ReferenceTargets(reprint(t, ref.Img, errors), ref.F35MM, TruePrint(0.001))
	require.NoError(t, err)
	for _, file := range []string{"045_2026-04_L.jpg", "045_2026-05_L.jpg", "045_2026-06_L.jpg"} {
		f := read(t, "series", file)
		img := reprint(t, f.Img, errors)
		nominal, _, err := Calibrate(img, f.F35MM, Settings{Print: TruePrint(0.001)})
		require.NoError(t, err)
		own, why, err := Calibrate(img, f.F35MM, Settings{Print: TruePrint(0.001), Targets: targets, ColourMode: ModeReference})
		require.NoError(t, err)
		t.Logf("%s: nominal %.2f / %.2f, by the reference photo %.2f / %.2f", file, nominal.Colour.Median, nominal.Colour.Worst, own.Colour.Median, own.Colour.Worst)
		assert.Empty(t, why)
		assert.Greater(t, nominal.Colour.Median, 2.0)
		assert.Less(t, own.Colour.Median, 0.6)
		assert.Less(t, own.Colour.Worst, 2.5)
	}
}

// One photo shows the old card, whose colours are known, and a new print: the new one's colours follow.
func TestBridgeFromAnOldCardToANewOne(t *testing.T) {
	errors := printErrors(5)
	f := read(t, "series", "045_2026-05_L.jpg")
	fresh := reprint(t, f.Img, errors)
	dimmer := relight(fresh, func(_, _ float64, v [3]float64) [3]float64 { return [3]float64{0.85 * v[0], 0.85 * v[1], 0.85 * v[2]} })
	both := beside(f.Img, dimmer)
	n, err := CountCards(both)
	require.NoError(t, err)
	require.Equal(t, 2, n)
	got, err := BridgedTargets(both, f.F35MM, TruePrint(0.001), NominalTargets())
	require.NoError(t, err)
	var e []float64
	for i, p := range card.Patches() {
		n := colour.FromSRGB8(p.SRGB[0], p.SRGB[1], p.SRGB[2])
		want := colour.RGB{n[0] * errors[i][0], n[1] * errors[i][1], n[2] * errors[i][2]}
		e = append(e, colour.DeltaE2000(got[i].Lab(), want.Lab()))
	}
	t.Logf("CIEDE2000 of the bridged colours: median %.2f", median(e))
	assert.Less(t, median(e), 0.8)

	_, err = BridgedTargets(f.Img, f.F35MM, TruePrint(0.001), NominalTargets())
	assert.ErrorIs(t, err, ErrNotTwoCards)
	swapped, err := BridgedTargets(beside(dimmer, f.Img), f.F35MM, TruePrint(0.001), NominalTargets())
	require.NoError(t, err)
	assert.NotEqual(t, got, swapped, "which card is the older is told by its place")
	_, err = ReferenceTargets(read(t, "single", "X02_card_covered.jpg").Img, 0, TruePrint(0.001))
	assert.ErrorIs(t, err, ErrReference)
}
