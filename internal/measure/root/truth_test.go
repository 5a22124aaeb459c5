package root

import (
	"encoding/json"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

// trueRegions are the regions of a wall as the scene's mask has them.
func trueRegions(t testing.TB, s scene, sh *sheet) *regions {
	f, err := os.Open(shared(t, "scenes", s.Set, "masks", strings.TrimSuffix(s.File, ".jpg")+".png"))
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	m := img.(*image.Gray)
	r := newRegions(sh.W, sh.H)
	for y := range sh.H {
		for x := range sh.W {
			u, v, ok := sh.pixel(float64(x), float64(y))
			if !ok || u < 0 || v < 0 || u > float64(m.Rect.Dx()-1) || v > float64(m.Rect.Dy()-1) {
				continue
			}
			// the share of four photo pixels, so that edges are soft
			x0, y0 := int(u), int(v)
			fx, fy := u-float64(x0), v-float64(y0)
			for k, w := range [4]float64{(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy} {
				i := y*sh.W + x
				switch m.GrayAt(x0+k%2, y0+k/2).Y {
				case 5, 12:
					r.any.Pix[i] += float32(w)
				case 6:
					r.any.Pix[i] += float32(w)
					r.tip.Pix[i] += float32(w)
				case 16:
					r.any.Pix[i] += float32(w)
					r.old.Pix[i] += float32(w)
				case 14:
					r.hidden.Pix[i] += float32(w)
				}
			}
		}
	}
	return r
}

func wildScenes(t testing.TB, sets ...string) (out []scene) {
	for _, set := range sets {
		raw, err := os.ReadFile(filepath.Join(shared(t, "scenes", set), "truth.json"))
		require.NoError(t, err)
		var doc struct {
			Files []json.RawMessage `json:"files"`
		}
		require.NoError(t, json.Unmarshal(raw, &doc))
		for _, f := range doc.Files {
			var s scene
			if json.Unmarshal(f, &s) != nil || s.Side != "R" || s.Root == nil {
				continue
			}
			s.Set = set
			out = append(out, s)
		}
	}
	return out
}

// With the true regions everything after the network must be right: what is left is the error of centrelines and widths.
func TestTrueRegionsGiveTrueLengths(t *testing.T) {
	var errs []float64
	for _, s := range wildScenes(t, "wild-roots", "hard") {
		in := s.input(t)
		pot, ok := locate(in, polygons(in.Blocked))
		require.True(t, ok, s.File)
		fr := pot.wall.Facing(in.Camera.Centre())
		v := newView(in.Camera, fr.Inset(typicalRadiusMM), workStep, true)
		sh := v.fill(in.Img, newLabCube(in.Lab), in.hidden())
		f := look(sh, trueRegions(t, s, sh), fr, footMM, &in)
		set := DefaultSettings()
		r, why := f.result(in, set, pot)
		if dir := os.Getenv("ROOT_PICTURES"); dir != "" {
			savePNG(t, filepath.Join(dir, s.File[:len(s.File)-4]+"_true.png"), r.WallShown)
		}
		l := value(r.Quantities, record.RootLength)
		if s.length() == 0 {
			continue
		}
		errs = append(errs, math.Abs(l.Value/s.length()-1))
		t.Logf("%-28s %6.1f of %6.1f: %+5.1f %% u95 %.1f %%; tips %d of %d; diameter %.2f of %.2f; old %.0f; count %+.0f %% %v", s.File, l.Value, s.length(), 100*(l.Value/s.length()-1), 100*l.U95/l.Value, len(r.Tips), s.Root.Tips,
			value(r.Quantities, record.RootDiameter).Value, s.Root.Diameter, value(r.Quantities, record.RootOld).Value, 100*(value(r.Quantities, record.RootIntersect).Value/l.Value-1), why)
	}
	t.Logf("median %.1f %%, worst %.1f %%", 100*median(errs), 100*quantile(errs, 1))
	assert.LessOrEqual(t, median(errs), 0.03)
	assert.LessOrEqual(t, quantile(errs, 1), 0.07)
}
