package leaf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// twoPlants is a photo of three leaves, drawn as a lens in focus draws them, and of two more behind them whose edges are spread by blurPx
// (standard deviation). The network takes all of it for leaf.
func twoPlants(blurPx float64) (in Input, ownMM2, allMM2 float64) {
	const w, h, scale = 1600, 1200, 5.0
	in = Input{Img: newPicture(w, h, 190, 188, 180), ScalePxPerMM: scale, DistanceMM: 600, EdgeSpreadPx: 1.8, Colour: SRGB(), HueDegU: 1, LU: 0.5, AU: 0.5, BU: 0.5}
	in.CardToPx[0], in.CardToPx[4], in.CardToPx[8] = scale, scale, 1
	in.Card = []record.Point{{X: 10, Y: 10}, {X: 60, Y: 10}, {X: 60, Y: 50}, {X: 10, Y: 50}}
	type blade struct{ x, y, a, b, turn, blur float64 }
	blades := []blade{
		{640, 520, 230, 90, -1.1, blurPx}, {1010, 500, 220, 85, -1.9, blurPx},
		{520, 760, 300, 60, 0.5, 0.7}, {820, 600, 60, 330, 0, 0.7}, {1120, 760, 300, 60, -0.5, 0.7},
	}
	seen := &told{w: w, h: h, leaf: make([]bool, w*h)}
	own, all := 0.0, 0.0
	for y := range h {
		for x := range w {
			c := [3]float64{180, 188, 190}
			front, any := 0.0, 0.0
			for i, q := range blades {
				s, co := math.Sincos(q.turn)
				dx, dy := float64(x)-q.x, float64(y)-q.y
				u, v := (dx*co+dy*s)/q.a, (dy*co-dx*s)/q.b
				r := math.Hypot(u, v)
				away := (1 - r) * r / math.Max(1e-9, math.Hypot(u/q.a, v/q.b)) // px inside of the outline, about
				cover := 0.5 * math.Erfc(-away/(q.blur*math.Sqrt2))
				tone := 1 + 0.05*math.Sin(v*9+u*3)
				leaf := [3]float64{45 * tone, 105 * tone, 60 * tone}
				if i < 2 {
					leaf = [3]float64{60, 130, 75}
				} else {
					front = math.Max(front, cover)
				}
				any = math.Max(any, cover)
				for k := range c {
					c[k] += (leaf[k] - c[k]) * cover
				}
			}
			for k := range c {
				in.Img.Pix[3*(y*w+x)+k] = uint8(c[k] + 0.5)
			}
			own, all = own+front, all+any
			seen.leaf[y*w+x] = any > 0.5
		}
	}
	in.Net = seen
	return in, own / (scale * scale), all / (scale * scale)
}

// TestLeavesBehindOutOfFocus: what stands behind and is drawn twice as softly as the plant is not counted, is in doubt, and is called
// another plant; the same leaves in focus count, as the network says.
func TestLeavesBehindOutOfFocus(t *testing.T) {
	for _, blur := range []float64{2.2, 4} {
		in, own, all := twoPlants(blur)
		require.Greater(t, all, 1.15*own, "the plant behind is worth speaking of")
		in.WantRegions = true
		res, reasons, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		q := valueOf(t, res, "leaf_area")
		assert.InEpsilon(t, own, q.Value, 0.05, "blur %.1f", blur)
		assert.GreaterOrEqual(t, q.Value+q.U95, own)
		require.NotEmpty(t, reasons)
		assert.Contains(t, []record.GateCode{"unsure", "too_unsure"}, reasons[0].Code)
		assert.Equal(t, uint8(regions.Other), res.Regions.Pix[430*res.Regions.W+600], "in the middle of a leaf behind")
	}
	in, _, all := twoPlants(0.7)
	res, _, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	assert.InEpsilon(t, all, valueOf(t, res, "leaf_area").Value, 0.005, "all in focus")
}
