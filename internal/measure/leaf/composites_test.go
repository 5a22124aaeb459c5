package leaf

import (
	"image"
	"image/color"
	"image/draw"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/leafnet"
	"phototrack/internal/raster"
	"phototrack/internal/reftest"
	"phototrack/internal/regions"
)

// Composites are 960 px by 720 px, and a cut-out fills at most four fifths of either.
const compositeW, compositeH, ofComposite = 960, 720, 0.8

// ground is a picture to set cut-outs before.
type ground struct {
	name string
	pic  image.Image
}

// grounds are what the cut-outs are set before: plain, a checked cloth, and photographs in which nothing grows, from the module of gocv (Apache-2.0).
func grounds(t *testing.T) []ground {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "gocv.io/x/gocv").Output()
	require.NoError(t, err)
	checks := image.NewNRGBA(image.Rect(0, 0, compositeW, compositeH))
	for y := range compositeH {
		for x := range compositeW {
			c := color.NRGBA{170, 150, 120, 255}
			if (x/42+y/42)%2 == 1 {
				c = color.NRGBA{230, 180, 140, 255}
			}
			checks.SetNRGBA(x, y, c)
		}
	}
	out := []ground{{"plain", image.NewUniform(color.NRGBA{150, 150, 148, 255})}, {"checks", checks}}
	for _, name := range []string{"box_in_scene.png", "distortion.jpg", "fisheye_sample.jpg"} {
		pic, err := imaging.Open(filepath.Join(strings.TrimSpace(string(dir)), "images", name))
		require.NoError(t, err)
		out = append(out, ground{name, imaging.Fill(pic, compositeW, compositeH, imaging.Center, imaging.Lanczos)})
	}
	return out
}

// Cut-outs of real plants (Debian's tuxpaint-stamps-default, GPL-2) set before grounds, without a card: where the cut-out covers half of a pixel or more there
// is leaf. Fruits and bare stalks of them count as leaf here, too, and are not found.
//
// The limits are what these networks reach, so that they do not get worse unnoticed.
func TestFoliageOfComposites(t *testing.T) {
	reftest.Slow(t)
	net := &leafnet.Net{}
	defer func() { require.NoError(t, net.Close()) }()
	before := grounds(t)
	sum, n := 0.0, 0
	for _, name := range []string{"eggplant", "holm_oak", "lettuce_bolted", "liberia_palm"} {
		cut, err := imaging.Open(reftest.Path(t, "photos", "cutouts", name+".png"))
		require.NoError(t, err)
		b := cut.Bounds()
		k := ofComposite * min(compositeW/float64(b.Dx()), compositeH/float64(b.Dy()))
		cut = imaging.Resize(cut, int(k*float64(b.Dx())), 0, imaging.Lanczos)
		corner := image.Pt((compositeW-cut.Bounds().Dx())/2, (compositeH-cut.Bounds().Dy())/2)
		for _, behind := range before {
			pic := image.NewNRGBA(image.Rect(0, 0, compositeW, compositeH))
			draw.Draw(pic, pic.Rect, behind.pic, image.Point{}, draw.Src)
			draw.Draw(pic, cut.Bounds().Add(corner), cut, image.Point{}, draw.Over)
			img := raster.NewBGR(compositeW, compositeH)
			for i := range compositeW * compositeH {
				img.Pix[3*i], img.Pix[3*i+1], img.Pix[3*i+2] = pic.Pix[4*i+2], pic.Pix[4*i+1], pic.Pix[4*i]
			}
			got, err := Regions(Input{Img: img, Colour: SRGB(), Net: net}, DefaultSettings())
			require.NoError(t, err)
			both, either := 0.0, 0.0
			for i, c := range got.Pix {
				_, _, _, a := cut.At(i%compositeW-corner.X, i/compositeW-corner.Y).RGBA()
				is, found := a >= 0x8000, regions.Class(c) == regions.Leaf
				if is && found {
					both++
				}
				if is || found {
					either++
				}
			}
			t.Logf("%-16s before %-18s IoU %.3f", name, behind.name, both/either)
			assert.GreaterOrEqual(t, both/either, 0.53, "%s before %s", name, behind.name)
			sum += both / either
			n++
		}
	}
	t.Logf("mean of %d: IoU %.3f", n, sum/float64(n))
	assert.GreaterOrEqual(t, sum/float64(n), 0.83)
}
