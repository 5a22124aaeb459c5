package trainscene

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestACloseUpIsAPartOfTheScene takes a close-up of a scene: each place must be seen where the part's enlargement puts it, card and tags with it, and
// the part must lie within the photo.
func TestACloseUpIsAPartOfTheScene(t *testing.T) {
	for seed := range uint64(12) {
		d := newDice(seed)
		c := compose(d, d.kind(), image.Pt(320, 240), nil)
		before, card, blur := c.cam, c.card, c.layers[0].blurPx
		c.approach(d, seed%2 == 1)
		times := c.cam.f / before.f
		require.True(t, times > 0.99*leastNear && times < 1.01*mostFewLeaves, "%v", times)
		left, top := before.cx-c.cam.cx/times, before.cy-c.cam.cy/times
		require.True(t, left > -0.1 && top > -0.1 && left+320/times < 320.1 && top+240/times < 240.1, "seed %d: %v, %v", seed, left, top)
		for _, p := range []vec{c.mid, c.mid.add(vec{40, 10, 5}), c.mid.add(vec{-30, 60, 0})} {
			x, y, _ := before.see(p)
			u, v, _ := c.cam.see(p)
			require.InDelta(t, (x-left)*times, u, 0.02*float64(times))
			require.InDelta(t, (y-top)*times, v, 0.02*float64(times))
		}
		for i, p := range card {
			require.InDelta(t, (p.X-float64(left))*float64(times), c.card[i].X, 0.05)
			require.InDelta(t, (p.Y-float64(top))*float64(times), c.card[i].Y, 0.05)
		}
		require.InDelta(t, blur*times, c.layers[0].blurPx, 1e-3)
	}
}

// TestFarPlantsDoNotCount: without a card a plant counts unless it is far out of focus.
func TestFarPlantsDoNotCount(t *testing.T) {
	require.EqualValues(t, leaf, counted(0))
	require.EqualValues(t, ignore, counted(3))
	require.EqualValues(t, other, counted(9))
}
