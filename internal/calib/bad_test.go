package calib

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// Photos with a known fault: each is refused or flagged with the right reason.
func TestFaultyPhotosSayWhy(t *testing.T) {
	for file, want := range map[string]record.GateCode{
		"X01_no_card.jpg": gate.NoCard, "X02_card_covered.jpg": gate.SomeMarkers, "X03_blur.jpg": gate.Blurred, "X04_overexposed.jpg": gate.ClippedHard,
	} {
		t.Run(file, func(t *testing.T) {
			data, err := os.ReadFile(reftest.Path(t, "scenes", "single", file))
			require.NoError(t, err)
			f, err := photo.Read(data, photo.Limits{})
			require.NoError(t, err)
			_, why, err := Calibrate(f.Img, f.F35MM, Settings{Print: TruePrint(0.001)})
			require.NoError(t, err)
			assert.True(t, (&record.Photo{Reasons: why}).HasReason(want), "%v", why)
			assert.NotEqual(t, record.Accepted, gate.StatusOf(why))
		})
	}
	data, err := os.ReadFile(reftest.Path(t, "scenes", "single", "X01_no_card.jpg"))
	require.NoError(t, err)
	f, err := photo.Read(data, photo.Limits{})
	require.NoError(t, err)
	soft, spread := wholePhotoSoft(f.Img)
	t.Logf("sharp: %.1f px", spread)
	assert.False(t, soft, "a sharp photo without a card is not blurred: %.1f px", spread)
}
