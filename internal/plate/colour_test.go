package plate

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/pipeline"
	"phototrack/internal/reftest"
)

// TestPatchesLookAlikeInFiveLights measures five photos of one plant in different light and exposure, writes them on one
// plate, reads the file back and compares each patch of the card between the panels: CIEDE2000 2 at most on the plant
// that was taken in five lights on purpose. On the others a pair of greys may lie a little over: drawn patches that went
// through a camera's JPEG do so too, though all else about them is known (TestColourNoiseOfJPEGIsEvenedOut).
func TestPatchesLookAlikeInFiveLights(t *testing.T) {
	for _, c := range []struct {
		name  string
		files string
		worst float64
		over  float64 // share of pairs over 2
	}{
		{"3200 K to 6800 K, one after another", "045_2026-0%d_L.jpg", 2, 0},
		{"window and daylight", "044_2026-0%d_L.jpg", 2.3, 0.01},
		{"roots, a pot's shadow on the card", "031_2026-0%d_R.jpg", 2.3, 0.01},
	} {
		t.Run(c.name, func(t *testing.T) {
			pairs := patchPairs(t, c.files)
			sum, over, worst := 0.0, 0.0, 0.0
			for _, d := range pairs {
				sum, worst = sum+d, max(worst, d)
				if d > 2 {
					over++
				}
			}
			n := float64(len(pairs))
			t.Logf("CIEDE2000 between lights on the written plate: mean %.2f, worst %.2f, %g of %g over 2", sum/n, worst, over, n)
			assert.LessOrEqual(t, worst, c.worst)
			assert.LessOrEqual(t, over/n, c.over)
			assert.LessOrEqual(t, sum/n, 0.7)
		})
	}
}

// patchPairs gives the differences of all patches between all pairs of a plant's five photos on one plate.
func patchPairs(t *testing.T, pattern string) (out []float64) {
	t.Helper()
	size := card.MM{X: card.WidthMM, Y: card.HeightMM}
	var frames []Frame
	for month := 3; month <= 7; month++ {
		name := fmt.Sprintf(pattern, month)
		data, err := os.ReadFile(reftest.Path(t, "scenes", "series", name))
		require.NoError(t, err)
		p := pipeline.Measure(data, pipeline.Job{Name: name, Pictures: true}, nil)
		plain, err := jpeg.Decode(bytes.NewReader(p.Pictures[pipeline.PicturePlain]))
		require.NoError(t, err, "%s: %v", name, p.Reasons)
		f, ok := FromPhoto(&p, plain)
		require.True(t, ok, name)
		f.Extent, f.Anchor = Box{0, 0, size.X, size.Y}, Point{} // the card itself is what is looked at
		frames = append(frames, f)
	}
	preset, _ := PresetNamed("screen")
	s := Spec{Preset: preset, Rows: []Row{{Frames: frames}}}
	var b bytes.Buffer
	require.NoError(t, WritePNG(&b, s))
	keep(t, "lights-"+pattern[:3]+".png", b.Bytes())
	m, err := png.Decode(&b)
	require.NoError(t, err)
	l, err := plan(&s)
	require.NoError(t, err)
	for _, patch := range card.Patches() {
		var seen []colour.Lab
		for i := range frames {
			seen = append(seen, patchOnPlate(m, &l, &frames[i], l.cells(&s)[i], patch.TopLeftMM()))
		}
		for i := range seen {
			for j := range i {
				out = append(out, colour.DeltaE2000(seen[i], seen[j]))
			}
		}
	}
	return out
}

// patchOnPlate is the mean colour of the middle of a patch on the written plate.
func patchOnPlate(m image.Image, l *layout, f *Frame, c cell, at card.MM) colour.Lab {
	x0, y0 := int(c.x), int(c.y)
	const side = 11.0 // mm
	a := l.place(f, Point{at.X + side/4, at.Y + side/4})
	z := l.place(f, Point{at.X + 3*side/4, at.Y + 3*side/4})
	var sum [3]float64
	n := 0.0
	for y := int(a.Y) + 1; y < int(z.Y); y++ {
		for x := int(a.X) + 1; x < int(z.X); x++ {
			r, g, b, _ := m.At(x0+x, y0+y).RGBA()
			p := colour.FromSRGB8(uint8(r>>8), uint8(g>>8), uint8(b>>8))
			sum[0], sum[1], sum[2], n = sum[0]+p[0], sum[1]+p[1], sum[2]+p[2], n+1
		}
	}
	return colour.RGB{sum[0] / n, sum[1] / n, sum[2] / n}.Lab()
}
