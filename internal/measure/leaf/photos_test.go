package leaf

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/photo"
	"phototrack/internal/reftest"
)

// Real photographs with hand-made foliage masks (255 foliage, 0 not, 128 not scored), without a card. "By hand" are the
// masks that were made without a colour rule: they are the independent ones.
func TestFoliageOfRealPhotographs(t *testing.T) {
	for _, c := range []struct {
		file   string
		byHand bool
		recall bool // no background is scored
	}{
		{"aloe.jpg", true, false},
		{"fallen_maple_leaf.jpg", true, true},
		{"oleander.png", true, false},
		{"raindrop_blades.jpg", false, false},
		{"hazel_and_dragonfly.jpg", false, false},
		{"moss_rosettes.jpg", false, false},
	} {
		t.Run(c.file, func(t *testing.T) {
			data, err := os.ReadFile(reftest.Path(t, "photos", c.file))
			require.NoError(t, err)
			f, err := photo.Read(data, photo.Limits{})
			require.NoError(t, err)
			truth := readMask(t, reftest.Path(t, "photos", strings.TrimSuffix(strings.TrimSuffix(c.file, ".jpg"), ".png")+"_mask.png"))
			got := FoliageMask(f.Img)
			require.Equal(t, [2]int{f.Img.W, f.Img.H}, [2]int{got.W, got.H})
			var hit, miss, wrong float64
			for y := range got.H {
				for x := range got.W {
					v, m := truth.Pix[y*truth.Stride+x], got.Pix[y*got.W+x] != 0
					switch {
					case v == 255 && m:
						hit++
					case v == 255:
						miss++
					case v == 0 && m:
						wrong++
					}
				}
			}
			iou, recall, falsely := hit/(hit+miss+wrong), hit/(hit+miss), wrong/(hit+wrong)
			t.Logf("by hand %v: IoU %.3f, recall %.3f, falsely included %.3f", c.byHand, iou, recall, falsely)
			assert.GreaterOrEqual(t, recall, 0.85)
			if !c.recall {
				assert.GreaterOrEqual(t, iou, 0.85)
				assert.LessOrEqual(t, falsely, 0.05)
			}
		})
	}
}
