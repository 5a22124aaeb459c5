package card_test

import (
	"encoding/json"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"

	"phototrack/internal/card"
)

// scenesDir finds the folder of rendered photos with exact truth beside the repository; the test is
// skipped without it, except where CI promises that it is there.
func scenesDir(t *testing.T) string { return reftest.Path(t, "scenes") }

type sceneTruth struct {
	Files []struct {
		File        string
		Tag         int
		Orientation int
		Card        *struct {
			Markers []struct {
				ID      int
				Corners [4][2]float64 `json:"corners_px"`
			}
		}
		TagCorners *[4][2]float64 `json:"tag_marker_corners_px"`
	}
}

// readCode reads a marker's cells at the centres of an 8 x 8 grid between its four corners. Projective
// bending inside one marker is far below a cell for these photos, so bilinear interpolation will do.
func readCode(img image.Image, c [4][2]float64) (code uint64) {
	const n = card.MarkerCells
	var grey [n][n]float64
	lo, hi := 65535.0, 0.0
	for r := range grey {
		for k := range grey[r] {
			u, v := (float64(k)+0.5)/n, (float64(r)+0.5)/n
			var p [2]float64
			for i := range p {
				p[i] = (1-v)*((1-u)*c[0][i]+u*c[1][i]) + v*((1-u)*c[3][i]+u*c[2][i])
			}
			red, green, blue, _ := img.At(int(p[0]+0.5), int(p[1]+0.5)).RGBA()
			grey[r][k] = float64(red+green+blue) / 3
			lo, hi = min(lo, grey[r][k]), max(hi, grey[r][k])
		}
	}
	for r := 1; r <= card.DataCells; r++ {
		for k := 1; k <= card.DataCells; k++ {
			code <<= 1
			if grey[r][k] > (lo+hi)/2 {
				code |= 1
			}
		}
	}
	return code
}

// Photos rendered by other hands carry the same markers: the cells read between the true corners must
// be the table's code, for card and tag alike, and so must the table's bit order and its upright.
func TestCodesInRenderedPhotos(t *testing.T) {
	dir := filepath.Join(scenesDir(t), "single")
	raw, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	require.NoError(t, err)
	var truth sceneTruth
	require.NoError(t, json.Unmarshal(raw, &truth))

	read := 0
	for _, s := range truth.Files {
		// Turned photos need the EXIF orientation applied, which is another package's business.
		if s.Card == nil || s.Orientation > 1 || s.File[0] == 'X' || filepath.Ext(s.File) != ".jpg" {
			continue
		}
		t.Run(s.File, func(t *testing.T) {
			f, err := os.Open(filepath.Join(dir, s.File))
			require.NoError(t, err)
			defer f.Close()
			img, err := jpeg.Decode(f)
			require.NoError(t, err)
			for _, m := range s.Card.Markers {
				assert.Equal(t, card.Codes[m.ID], readCode(img, m.Corners), "marker %d", m.ID)
				read++
			}
			if s.TagCorners != nil {
				assert.Equal(t, card.Codes[s.Tag], readCode(img, *s.TagCorners), "tag %d", s.Tag)
				read++
			}
		})
	}
	require.GreaterOrEqual(t, read, 28, "too few markers read to mean anything")
}
