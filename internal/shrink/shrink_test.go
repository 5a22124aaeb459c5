package shrink

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"phototrack/internal/raster"
)

func randomPicture(w, h int, seed uint64) raster.BGR {
	img := raster.NewBGR(w, h)
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range img.Pix {
		img.Pix[i] = uint8(rng.Uint32())
	}
	return img
}

func white(w, h int) raster.BGR {
	img := raster.NewBGR(w, h)
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	return img
}

// mean is the mean of a channel over columns x0 to x1-1 and rows y0 to y1-1, as the words say it.
func mean(img raster.BGR, x0, x1, y0, y1, c int) uint8 {
	sum, n := 0, 0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			sum += int(img.Pix[3*(y*img.W+x)+c])
			n++
		}
	}
	return uint8((sum + n/2) / n)
}

func slowTo(img raster.BGR, longPx int) raster.BGR {
	long := max(img.W, img.H)
	w, h := max(1, img.W*longPx/long), max(1, img.H*longPx/long)
	out := raster.NewBGR(w, h)
	for y := range h {
		for x := range w {
			for c := range 3 {
				out.Pix[3*(y*w+x)+c] = mean(img, x*img.W/w, (x+1)*img.W/w, y*img.H/h, (y+1)*img.H/h, c)
			}
		}
	}
	return out
}

func TestToIsTheMeanOfEachArea(t *testing.T) {
	for _, c := range []struct{ w, h, long int }{
		{400, 300, 120}, {400, 300, 399}, {400, 300, 133}, {301, 403, 100}, {64, 64, 63}, {1000, 3, 10}, {2, 900, 3}, {7, 7, 1},
		{160, 120, 10}, {170, 130, 10}, {320, 340, 20}, {900, 800, 1},
	} {
		img := randomPicture(c.w, c.h, uint64(c.w))
		require.Equal(t, slowTo(img, c.long), To(img, c.long), "%v", c)
	}
	for _, img := range []raster.BGR{white(5, 2000), white(160, 160), white(512, 512)} { // the largest sums do not run over
		for _, long := range []int{3, 10, 32} {
			for _, v := range To(img, long).Pix {
				require.EqualValues(t, 255, v)
			}
		}
	}
	small := randomPicture(20, 10, 5)
	same := To(small, 20)
	assert.Equal(t, small, same)
	same.Pix[0]++
	assert.NotEqual(t, small.Pix[0], same.Pix[0], "it is a copy")
}

func TestBlocksAreTheMeanOfEachBlock(t *testing.T) {
	for k := 1; k <= 40; k++ {
		img := randomPicture(3*k+k/2, 2*k+k/3, uint64(k))
		if k == 4 {
			img = randomPicture(203, 101, 4)
		}
		got, err := Blocks(img, k)
		require.NoError(t, err)
		require.Equal(t, []int{img.W / k, img.H / k}, []int{got.W, got.H})
		for y := range got.H {
			for x := range got.W {
				for c := range 3 {
					want := mean(img, x*k, (x+1)*k, y*k, (y+1)*k, c)
					if k&(k-1) == 0 || k > maxBlock { // in others the division by a multiplication may be one off at the border
						require.Equal(t, want, got.Pix[3*(y*got.W+x)+c], "k %d", k)
					} else {
						require.InDelta(t, want, got.Pix[3*(y*got.W+x)+c], 1, "k %d", k)
					}
				}
			}
		}
		full, err := Blocks(white(3*k, 2*k), k)
		require.NoError(t, err)
		assert.Equal(t, white(3, 2), full)
	}
}

// OpenCV's own averaging over areas, of the green channel, is what this replaces: the same to the last bit.
func TestGreenIsWhatOpenCVMakesOfIt(t *testing.T) {
	for k := 1; k <= 41; k++ {
		img := randomPicture(5*k+k/2+1, 7*k+k/3, uint64(k))
		for i := range img.Pix { // halves and bright whites are many
			if i%7 < 3 {
				img.Pix[i] = 255 - uint8(i%2)
			}
		}
		got, w, h, err := Green(img, k)
		require.NoError(t, err)
		src, err := gocv.NewMatFromBytes(img.H, img.W, gocv.MatTypeCV8UC3, img.Pix)
		require.NoError(t, err)
		whole, green, want := src.Region(image.Rect(0, 0, k*w, k*h)), gocv.NewMat(), gocv.NewMat()
		gocv.ExtractChannel(whole, &green, 1)
		gocv.Resize(green, &want, image.Pt(w, h), 0, 0, gocv.InterpolationArea)
		require.Equal(t, want.ToBytes(), got, "k %d", k)
		for _, m := range []*gocv.Mat{&src, &whole, &green, &want} {
			m.Close()
		}
	}
}

func TestSizesThatCannotBe(t *testing.T) {
	for name, img := range map[string]raster.BGR{"nothing": {}, "no bytes": {W: 4, H: 4}, "too narrow": raster.NewBGR(3, 9)} {
		_, err := Blocks(img, 4)
		assert.ErrorIs(t, err, ErrSize, name)
		_, _, _, err = Green(img, 4)
		assert.ErrorIs(t, err, ErrSize, name)
	}
	_, err := Blocks(raster.NewBGR(400, 400), 300)
	assert.ErrorIs(t, err, ErrSize)
	_, err = Blocks(raster.NewBGR(4, 4), 0)
	assert.ErrorIs(t, err, ErrSize)
}

func BenchmarkShrink12MP(b *testing.B) {
	img := randomPicture(4000, 3000, 1)
	b.Run("blocks of 4", func(b *testing.B) {
		for b.Loop() {
			if _, err := Blocks(img, 4); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("green by 3", func(b *testing.B) {
		for b.Loop() {
			if _, _, _, err := Green(img, 3); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("to 1200", func(b *testing.B) {
		for b.Loop() {
			To(img, 1200)
		}
	})
}
