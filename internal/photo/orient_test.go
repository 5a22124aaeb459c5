package photo

import (
	stdimage "image"
	"image/color"
	"math/rand/v2"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// speckled is a picture in which every pixel has its own colour, as far as there are enough.
func speckled(w, h int) raster.BGR {
	r := rand.New(rand.NewPCG(uint64(w), uint64(h)))
	img := raster.NewBGR(w, h)
	for i := range img.Pix {
		img.Pix[i] = byte(r.Uint32())
	}
	return img
}

func toGo(img raster.BGR) *stdimage.NRGBA {
	out := stdimage.NewNRGBA(stdimage.Rect(0, 0, img.W, img.H))
	for i := range img.W * img.H {
		out.SetNRGBA(i%img.W, i/img.W, color.NRGBA{img.Pix[3*i+2], img.Pix[3*i+1], img.Pix[3*i], 255})
	}
	return out
}

func fromGo(img *stdimage.NRGBA) raster.BGR {
	b := img.Bounds()
	out := raster.NewBGR(b.Dx(), b.Dy())
	for i := range out.W * out.H {
		c := img.NRGBAAt(i%out.W, i/out.W)
		out.Pix[3*i], out.Pix[3*i+1], out.Pix[3*i+2] = c.B, c.G, c.R
	}
	return out
}

// TestUprightAgainstAnotherLibrary compares all eight orientations with those of github.com/disintegration/imaging.
func TestUprightAgainstAnotherLibrary(t *testing.T) {
	turn := map[int]func(stdimage.Image) *stdimage.NRGBA{1: imaging.Clone, 2: imaging.FlipH, 3: imaging.Rotate180, 4: imaging.FlipV,
		5: imaging.Transpose, 6: imaging.Rotate270, 7: imaging.Transverse, 8: imaging.Rotate90}
	for _, size := range [][2]int{{1, 1}, {1, 7}, {5, 3}, {64, 64}, {131, 70}} {
		img := speckled(size[0], size[1])
		for o := 1; o <= 8; o++ {
			require.Equal(t, fromGo(turn[o](toGo(img))), Upright(img, o), "size %v orientation %d", size, o)
		}
	}
}

// TestUprightBySpecification checks where the stored first row and column end up (CIPA DC-008, tag 274): for 6 the first
// row is the right side and the first column the top.
func TestUprightBySpecification(t *testing.T) {
	img := raster.BGR{W: 2, H: 1, Pix: []byte{1, 1, 1, 2, 2, 2}}
	assert.Equal(t, raster.BGR{W: 1, H: 2, Pix: []byte{1, 1, 1, 2, 2, 2}}, Upright(img, 6))
	assert.Equal(t, raster.BGR{W: 1, H: 2, Pix: []byte{2, 2, 2, 1, 1, 1}}, Upright(img, 8))
	assert.Equal(t, img, Upright(img, 0), "a number that means nothing turns nothing")
}
