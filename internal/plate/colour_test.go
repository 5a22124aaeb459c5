package plate

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/pipeline"
)

// TestPatchesLookAlikeInFiveLights measures five photos of one plant in different light and exposure, writes them on one
// plate, reads the file back and compares each patch of the card between the panels. All but a few pairs
// stay within CIEDE2000 2; those few are greys, on which one step of the colour channels of a JPEG shows most.
func TestPatchesLookAlikeInFiveLights(t *testing.T) {
	files := []string{"045_2026-03_L.jpg", "045_2026-04_L.jpg", "045_2026-05_L.jpg", "045_2026-06_L.jpg", "045_2026-07_L.jpg"}
	size := card.SizeMM()
	var frames []Frame
	for _, name := range files {
		data, err := os.ReadFile(filepath.Join(scenesDir(t), name))
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
	keep(t, "lights.png", b.Bytes())
	m, err := png.Decode(&b)
	require.NoError(t, err)
	l, err := plan(&s)
	require.NoError(t, err)
	worst, sum, n, over := 0.0, 0.0, 0, 0
	for _, patch := range card.Patches() {
		var seen []colour.Lab
		for i := range frames {
			seen = append(seen, patchOnPlate(m, &l, &frames[i], i, patch.TopLeftMM()))
		}
		for i := range seen {
			for j := range i {
				d := colour.DeltaE2000(seen[i], seen[j])
				sum, n = sum+d, n+1
				worst = max(worst, d)
				if d > 2 {
					over++
					t.Logf("%.2f: patch %s, photos %s and %s", d, patch.Name, files[j], files[i])
				}
			}
		}
	}
	assert.LessOrEqual(t, sum/float64(n), 1.0, "mean over all pairs of lights and all patches")
	assert.LessOrEqual(t, float64(over)/float64(n), 0.05, "share of pairs that differ by more than 2")
	t.Logf("CIEDE2000 between lights on the written plate: mean %.2f, worst %.2f", sum/float64(n), worst)
}

// patchOnPlate is the mean colour of the middle of a patch on the written plate.
func patchOnPlate(m image.Image, l *layout, f *Frame, i int, at card.MM) colour.Lab {
	x0 := int(l.margin + float64(i%l.cols)*l.pitch)
	y0 := int(l.top + float64(i/l.cols)*(float64(l.panelH)+l.captionH+l.gap))
	const side = 11.0 // mm
	a := l.place(f, Point{at.X + side/4, at.Y + side/4})
	z := l.place(f, Point{at.X + 3*side/4, at.Y + 3*side/4})
	var sum [3]float64
	n := 0.0
	for y := int(a.Y) + 1; y < int(z.Y); y++ {
		for x := int(a.X) + 1; x < int(z.X); x++ {
			r, g, b, _ := m.At(x0+x, y0+y).RGBA()
			c := colour.FromSRGB8(uint8(r>>8), uint8(g>>8), uint8(b>>8))
			sum[0], sum[1], sum[2], n = sum[0]+c[0], sum[1]+c[1], sum[2]+c[2], n+1
		}
	}
	return colour.RGB{sum[0] / n, sum[1] / n, sum[2] / n}.Lab()
}
