package calib

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/gate"
)

// seenPatches are the card's patches as a camera with this tone curve (encoded value 0..1 in and out), channel gains,
// mixing matrix and glare would show them, noise-free and not rounded.
func seenPatches(tone func(float64) float64, gains [3]float64, mix [3][3]float64, glare float64) (obs []patchObs) {
	one := [3]float64{1, 1, 1}
	for i, p := range card.Patches() {
		target := NominalTargets()[i]
		var rgb [3]float64
		for c := range 3 {
			l := glare
			for k := range 3 {
				l += mix[c][k] * target[k]
			}
			rgb[c] = 255 * tone(colour.Encode(gains[c]*l))
		}
		obs = append(obs, newPatchObs(i, p, rgb, one, target))
	}
	return
}

func TestModelsUndoTheirCameras(t *testing.T) {
	straight := func(v float64) float64 { return v }
	// A phone's contrast curve: a little darker in the shadows, brighter in the lights.
	contrast := func(v float64) float64 { return v + 0.12*v*(1-v)*(2*v-0.8) }
	none := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	vivid := [3][3]float64{{1.1, -0.07, -0.03}, {-0.04, 1.08, -0.04}, {0, -0.03, 1.03}}
	tests := []struct {
		name   string
		tone   func(float64) float64
		gains  [3]float64
		mix    [3][3]float64
		glare  float64
		median float64
		model  string
	}{
		{"sRGB itself", straight, [3]float64{1, 1, 1}, none, 0, 0.02, "sRGB tone, gains"},
		{"warm light", straight, [3]float64{0.9, 0.75, 0.5}, none, 0, 0.02, "sRGB tone, gains"},
		{"glare", straight, [3]float64{0.8, 0.75, 0.7}, none, 0.01, 0.02, "sRGB tone less glare, gains"},
		{"vivid colours", straight, [3]float64{0.8, 0.75, 0.7}, vivid, 0.004, 0.05, "sRGB tone less glare, 3x3 matrix"},
		{"contrast curve", contrast, [3]float64{0.8, 0.75, 0.7}, none, 0.008, 0.1, "tone from the greys less glare, gains"},
		{"contrast curve and vivid colours", contrast, [3]float64{0.8, 0.75, 0.7}, vivid, 0.008, 0.1, "tone from the greys less glare, 3x3 matrix"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := seenPatches(tt.tone, tt.gains, tt.mix, tt.glare)
			f, ok := fitColour(obs)
			require.True(t, ok)
			t.Logf("%s: %.3f / %.3f", f.Model, f.Median, f.Worst)
			assert.LessOrEqual(t, f.Median, tt.median)
			assert.Equal(t, tt.model, f.Model)
			for c := range 3 {
				for v := 1; v < 256; v++ {
					require.GreaterOrEqual(t, f.Tone[c][v], f.Tone[c][v-1], "the tone rises")
				}
			}
		})
	}
}

// A soft shadow over a corner of the card: light on the paper tells of it, and the patches are corrected for it.
func TestSurfaceFollowsASoftShadow(t *testing.T) {
	shade := func(x, y float64) float64 { // 60 % of the light is gone in the corner
		return 1 - 0.6/(1+math.Exp((x+0.5*y-60)/9))
	}
	var all []whiteObs
	for _, p := range whiteSamples() {
		all = append(all, whiteObs{p.X, p.Y, [3]float64{math.Log(shade(p.X, p.Y)), 0, 0}})
	}
	s := fitSurface(all, 0)
	assert.Positive(t, s.reach, "no polynomial over the whole card does it")
	kept := 0
	for _, p := range card.Patches() {
		c := p.CentreMM()
		e := s.at(c.X, c.Y) - math.Log(shade(c.X, c.Y))
		if s.doubt(c.X, c.Y) <= glossLightU {
			kept++
			assert.Less(t, math.Abs(e), 0.08, "%s: light %.3f off, doubt %.3f", p.Name, e, s.doubt(c.X, c.Y))
		}
	}
	t.Logf("%d of 24 patches kept", kept)
	assert.GreaterOrEqual(t, kept, gate.MinPatches)
}
