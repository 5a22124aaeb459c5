package cardpdf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/cv"
)

// The detector that reads photos must read the print: all six markers of each side, every corner where
// the card's definition puts it.
func TestDetectorReadsThePrint(t *testing.T) {
	p := Papers()[0]
	pdf := writePDF(t, Options{Paper: p, Card: true})
	x0, y0 := (p.WidthMM-card.WidthMM)/2, (p.HeightMM-card.HeightMM)/2
	for page, side := range card.Sides() {
		t.Run("side "+string(side), func(t *testing.T) {
			s := scanPage(t, pdf, page+1, x0, y0, card.WidthMM, card.HeightMM)
			found, err := cv.DetectMarkers(s.gray(), s.w, s.h)
			require.NoError(t, err)
			require.Len(t, found, card.MarkersPerSide)
			worst := 0.0
			for _, m := range found {
				want, on, ok := card.MarkerCornersMM(m.ID)
				require.True(t, ok && on == side, "marker %d", m.ID)
				for i, c := range m.Corners {
					x, y := s.mm(c[0], c[1])
					d := math.Hypot(x-x0-want[i][0], y-y0-want[i][1])
					assert.LessOrEqual(t, d, cornerTolMM, "marker %d corner %d", m.ID, i)
					worst = math.Max(worst, d)
				}
			}
			t.Logf("worst corner: %.4f mm", worst)
		})
	}
}

// The table of codes and OpenCV's own drawing agree for every id.
func TestCodesAgreeWithOpenCV(t *testing.T) {
	for id := range card.CodeCount {
		m, err := cv.DrawMarker(id, 1)
		require.NoError(t, err)
		for r := range card.MarkerCells {
			for k := range card.MarkerCells {
				require.Equal(t, card.CellWhite(id, r, k), m.Pix[r*card.MarkerCells+k] != 0, "marker %d cell %d,%d", id, r, k)
			}
		}
	}
}
