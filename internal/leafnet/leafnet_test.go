package leafnet_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/leafnet"
	"phototrack/internal/regions"
	"phototrack/internal/trainscene"
)

// TestDrawnScene: on a drawn scene (a seed that was not trained on) all networks find most of the leaf, are asked twice with the same
// answer, and are not the same.
func TestDrawnScene(t *testing.T) {
	net := &leafnet.Net{}
	defer func() { require.NoError(t, net.Close()) }()
	var film trainscene.Film
	s := trainscene.Draw(9700001, false, nil, &film)
	a, err := net.See(s.View)
	require.NoError(t, err)
	again, err := net.See(s.View)
	require.NoError(t, err)
	assert.Equal(t, a.P, again.P, "the same view gives the same answer to the last digit")
	b, err := net.Second().See(s.View)
	require.NoError(t, err)
	assert.NotEqual(t, a.P, b.P)
	c, err := net.Third().See(s.View)
	require.NoError(t, err)
	assert.NotEqual(t, a.P, c.P)
	for _, m := range []regions.Map{a, b, c} {
		hit, all, wrong := 0, 0, 0
		for i, c := range s.Label {
			leaf := m.P[regions.Leaf][i] > 0.5
			switch {
			case c == uint8(regions.Leaf) && leaf:
				hit, all = hit+1, all+1
			case c == uint8(regions.Leaf):
				all++
			case c != 255 && leaf:
				wrong++
			}
		}
		t.Logf("%d of %d leaf pixels, %d wrong", hit, all, wrong)
		assert.Greater(t, all, 1000)
		assert.Greater(t, float64(hit), 0.7*float64(all))
		assert.Less(t, float64(wrong), 0.5*float64(all))
	}
	_, err = net.See(regions.View{W: 31, H: 31, Pix: make([]uint8, regions.Planes*31*31)})
	require.Error(t, err, "sizes that the network cannot halve five times are refused")
}

func BenchmarkNetworks(b *testing.B) {
	net := &leafnet.Net{}
	defer func() { require.NoError(b, net.Close()) }()
	var film trainscene.Film
	s := trainscene.Draw(9700001, false, nil, &film)
	for name, seer := range map[string]regions.Seer{"first": net, "second": net.Second(), "third": net.Third()} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, err := seer.See(s.View)
				require.NoError(b, err)
			}
		})
	}
}
