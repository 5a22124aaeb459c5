package calib

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/photo"
	"phototrack/internal/raster"
	"phototrack/internal/reftest"
)

// read opens a photo of the scenes.
func read(t testing.TB, set, file string) *photo.Frame {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(reftest.Path(t, "scenes", set), file))
	require.NoError(t, err)
	f, err := photo.Read(data, photo.Limits{})
	require.NoError(t, err)
	return f
}

func clone(img raster.BGR) raster.BGR {
	img.Pix = append([]uint8(nil), img.Pix...)
	return img
}

// encodeTable is the sRGB encoding of the square of i/4095: fine enough at the dark end.
var encodeTable = func() (t [4096]uint8) {
	for i := range t {
		t[i] = colour.Encode8(float64(i) / 4095 * float64(i) / 4095)
	}
	return
}()

func encode(l float64) uint8 {
	return encodeTable[int(math.Sqrt(min(max(l, 0), 1))*4095+0.5)]
}

// relight makes a photo anew with its linear light (blue, green, red) changed as f says, f given the place in px.
func relight(img raster.BGR, f func(x, y float64, bgr [3]float64) [3]float64) raster.BGR {
	out := clone(img)
	for i := 0; i < len(out.Pix); i += 3 {
		p := out.Pix[i : i+3]
		k := i / 3
		v := f(float64(k%img.W), float64(k/img.W), [3]float64{colour.LinearOf8[p[0]], colour.LinearOf8[p[1]], colour.LinearOf8[p[2]]})
		for c := range 3 {
			p[c] = encode(v[c])
		}
	}
	return out
}

// onCard relights by the place on the card, mm.
func onCard(t testing.TB, img raster.BGR, f func(p geom.MM, bgr [3]float64) [3]float64) raster.BGR {
	t.Helper()
	ms, err := FindMarkers(img)
	require.NoError(t, err)
	s, _, err := chooseCard(ms)
	require.NoError(t, err)
	inv, err := s.h.Inverse()
	require.NoError(t, err)
	return relight(img, func(x, y float64, v [3]float64) [3]float64 { return f(inv.MM(geom.PX{X: x, Y: y}), v) })
}

// printErrors is how a home print may differ from the drawing: each patch's reflectance by some 8 % in each channel.
func printErrors(seed uint64) (out [24][3]float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range out {
		for c := range 3 {
			out[i][c] = math.Exp(0.08 * r.NormFloat64())
		}
	}
	return
}

// reprint shows the card with patches of another print.
func reprint(t testing.TB, img raster.BGR, by [24][3]float64) raster.BGR {
	patches := card.Patches()
	return onCard(t, img, func(p geom.MM, v [3]float64) [3]float64 {
		for i, q := range patches {
			a := q.TopLeftMM()
			if p.X >= a.X && p.X < a.X+card.PatchSideMM && p.Y >= a.Y && p.Y < a.Y+card.PatchSideMM {
				return [3]float64{v[0] * by[i][2], v[1] * by[i][1], v[2] * by[i][0]}
			}
		}
		return v
	})
}

// beside puts two pictures of one height side by side.
func beside(a, b raster.BGR) raster.BGR {
	out := raster.BGR{W: a.W + b.W, H: a.H, Pix: make([]uint8, 3*(a.W+b.W)*a.H)}
	for y := range a.H {
		copy(out.Pix[3*y*out.W:], a.Pix[3*y*a.W:3*(y+1)*a.W])
		copy(out.Pix[3*(y*out.W+a.W):], b.Pix[3*y*b.W:3*(y+1)*b.W])
	}
	return out
}
