package root

import (
	"encoding/json"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// Values: ../shared/reference/roots.json: crossings of the exact centrelines with a square grid, mean of 16 offsets, times
// 11/14 and the spacing (Tennant 1975). A mask of overlapping roots has fewer separate runs than there are centrelines.
func TestLineCountAgreesWithCrossingsOfCentrelines(t *testing.T) {
	raw, err := os.ReadFile(shared(t, "reference", "roots.json"))
	require.NoError(t, err)
	var doc struct {
		Systems []struct {
			File      string  `json:"file"`
			Truth     float64 `json:"true_centreline_length_px"`
			Intersect []struct {
				Tennant float64 `json:"tennant_11_14_mean"`
			} `json:"line_intersect"`
		} `json:"systems"`
	}
	require.NoError(t, json.Unmarshal(raw, &doc))
	var bias float64
	for _, s := range doc.Systems {
		f, err := os.Open(shared(t, "reference", s.File))
		require.NoError(t, err)
		img, err := png.Decode(f)
		f.Close()
		require.NoError(t, err)
		m := raster.NewMask(img.Bounds().Dx(), img.Bounds().Dy())
		for i := range m.Pix {
			if v, _, _, _ := img.At(i%m.W, i/m.W).RGBA(); v > 0x7fff {
				m.Pix[i] = 1
			}
		}
		got := lineCount(m, 1, func(int, int) float64 { return 1 })
		want := s.Intersect[0].Tennant
		bias += (got/want - 1) / float64(len(doc.Systems))
		t.Logf("%s: %.0f, by centrelines %.0f, true %.0f", s.File, got, want, s.Truth)
		assert.InEpsilon(t, want, got, 0.08, s.File)
	}
	assert.InDelta(t, 0, bias, 0.04)
}
