package regions

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// The loops in C must give what is told here plainly.
func TestDetailIsWhatItIsSaidToBe(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ w, h, k, vw, vh int }{{90, 70, 1, 32, 32}, {301, 223, 2, 64, 32}, {301, 223, 3, 32, 64}, {400, 300, 17, 32, 32}, {64, 64, 16, 96, 64}, {40, 9, 4, 32, 32}, {5, 300, 2, 32, 32}} {
		p := raster.NewBGR(c.w, c.h)
		for i := range p.Pix {
			p.Pix[i] = uint8(rng.IntN(256))
		}
		got := strongest(p, c.k, c.vw, c.vh)
		g, w, h := greens(p, c.k)
		require.Equal(t, strongestOf(g, w, h, c.vw, c.vh), got[:c.vw*c.vh], "%v fine", c)
		g, w, h = halve(g, w, h)
		require.Equal(t, strongestOf(g, w, h, c.vw, c.vh), got[c.vw*c.vh:], "%v coarse", c)
	}
}

// greens is the green channel, reduced k times.
func greens(p raster.BGR, k int) (g []uint8, w, h int) {
	w, h = p.W/k, p.H/k
	g = make([]uint8, w*h)
	for i := range g {
		s := 0
		for j := range k * k {
			s += int(p.Pix[3*((i/w*k+j/k)*p.W+i%w*k+j%k)+1])
		}
		g[i] = uint8(s / (k * k))
	}
	return
}

func halve(g []uint8, w, h int) (out []uint8, w2, h2 int) {
	w2, h2 = w/2, h/2
	out = make([]uint8, w2*h2)
	for i := range out {
		o := 2*(i/w2)*w + 2*(i%w2)
		out[i] = uint8((int(g[o]) + int(g[o+1]) + int(g[o+w]) + int(g[o+w+1]) + 2) / 4)
	}
	return
}

func strongestOf(g []uint8, w, h, vw, vh int) []uint16 {
	out := make([]uint16, vw*vh)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			d := 4*int(g[i]) - int(g[i-1]) - int(g[i+1]) - int(g[i-w]) - int(g[i+w])
			place := &out[y*vh/h*vw+x*vw/w]
			*place = max(*place, uint16(max(d, -d)))
		}
	}
	return out
}
