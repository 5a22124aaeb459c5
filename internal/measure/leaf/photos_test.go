package leaf

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/leafnet"
	"phototrack/internal/photo"
	"phototrack/internal/reftest"
	"phototrack/internal/regions"
)

// Real photographs with hand-made foliage masks (255 foliage, 0 not, 128 not scored), without a card. "By hand" are the
// masks that were made without a colour rule: they are the independent ones.
//
// The limits are what these networks reach, so that they do not get worse unnoticed; they are no aim.
func TestFoliageOfRealPhotographs(t *testing.T) {
	net := &leafnet.Net{}
	defer func() { require.NoError(t, net.Close()) }()
	sum := 0.0
	for _, c := range []struct {
		file   string
		byHand bool
		iou    float64
	}{
		{"aloe.jpg", true, 0.85},
		{"fallen_maple_leaf.jpg", true, 0.98},
		{"oleander.png", true, 0.98},
		{"raindrop_blades.jpg", false, 0.90},
		{"hazel_and_dragonfly.jpg", false, 0.98},
		{"moss_rosettes.jpg", false, 0.84},
	} {
		t.Run(c.file, func(t *testing.T) {
			data, err := os.ReadFile(reftest.Path(t, "photos", c.file))
			require.NoError(t, err)
			f, err := photo.Read(data, photo.Limits{})
			require.NoError(t, err)
			truth := readMask(t, reftest.Path(t, "photos", strings.TrimSuffix(strings.TrimSuffix(c.file, ".jpg"), ".png")+"_mask.png"))
			got, err := Regions(Input{Img: f.Img, Colour: SRGB(), Net: net}, DefaultSettings())
			require.NoError(t, err)
			require.Equal(t, [2]int{f.Img.W, f.Img.H}, [2]int{got.W, got.H})
			var hit, miss, wrong float64
			for y := range got.H {
				for x := range got.W {
					v, m := truth.Pix[y*truth.Stride+x], regions.Class(got.Pix[y*got.W+x]) == regions.Leaf
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
			assert.GreaterOrEqual(t, iou, c.iou)
			sum += iou
		})
	}
	const photographs, leastMean = 6, 0.93
	assert.GreaterOrEqual(t, sum/photographs, leastMean)
}
