package root

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// sample and at are what places do, a place and a colour at a time.
func sample(img raster.BGR, u, v, fine float64) (b, g, r float32) {
	if fine == 0 {
		return bilinear(img, u, v)
	}
	b0, g0, r0 := bilinear(img, u-fine, v-fine)
	b1, g1, r1 := bilinear(img, u+fine, v+fine)
	return (b0 + b1) / 2, (g0 + g1) / 2, (r0 + r1) / 2
}

// at interpolates in the table; b, g, r lie in 0..255.
func (c *labCube) at(b, g, r float32) (l, a, bb float32) {
	const k = 1.0 / 15
	b, g, r = b*k, g*k, r*k
	ib, ig, ir := min(int(b), cubeSide-2), min(int(g), cubeSide-2), min(int(r), cubeSide-2)
	fb, fg, fr := b-float32(ib), g-float32(ig), r-float32(ir)
	i := (ib*cubeSide+ig)*cubeSide + ir
	// Along red on the four edges of the cell, then along green, then along blue.
	var e [4][3]float32
	for n := range e {
		j := i + n&1*cubeSide + n>>1*(cubeSide*cubeSide)
		p, q := &c.v[j], &c.v[j+1]
		e[n] = [3]float32{p[0] + fr*(q[0]-p[0]), p[1] + fr*(q[1]-p[1]), p[2] + fr*(q[2]-p[2])}
	}
	var out [3]float32
	for k := range out {
		near := e[0][k] + fg*(e[1][k]-e[0][k])
		far := e[2][k] + fg*(e[3][k]-e[2][k])
		out[k] = near + fb*(far-near)
	}
	return out[0], out[1], out[2]
}

func TestPlacesAreSampledOneByOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	img := raster.NewBGR(61, 43)
	for i := range img.Pix {
		img.Pix[i] = uint8(rng.Uint32())
	}
	cube := newLabCube(func(b, g, r uint8) (float32, float32, float32) {
		return float32(r)*0.37 + rng.Float32(), float32(g) - float32(r)*0.9, rng.Float32() * 100
	})
	for _, fine := range []float64{0, 0.41} {
		p := newPlaces(img, 500)
		for i := range 500 {
			u, v := 1+rng.Float64()*57, 1+rng.Float64()*39
			if i%5 == 0 { // whole pixels and the corners of what is asked for
				u, v = float64(1+rng.IntN(58)), float64(1+rng.IntN(40))
			}
			p.add(i, u, v)
		}
		colours := append([][4]float32(nil), p.sample(fine)...)
		labs := append([][4]float32(nil), colours...)
		p.lab(cube, labs)
		for i, at := range p.uv[:p.n] {
			b, g, r := sample(img, at[0], at[1], fine)
			require.Equal(t, [3]float32{b, g, r}, [3]float32(colours[i][:3]))
			l, a, bb := cube.at(b, g, r)
			require.Equal(t, [3]float32{l, a, bb}, [3]float32(labs[i][:3]))
		}
	}
	white := [][4]float32{{255, 255, 255}}
	(&places{}).lab(cube, white)
	l, a, b := cube.at(255, 255, 255)
	assert.Equal(t, [3]float32{l, a, b}, [3]float32(white[0][:3]))
}

func TestScreenHidesWhatLiesWithin(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	hidden := 0
	for range 50 {
		var polys [][][2]float64
		for range rng.IntN(4) {
			var p [][2]float64
			for range 3 + rng.IntN(4) {
				p = append(p, [2]float64{rng.Float64() * 100, float64(rng.IntN(100))})
			}
			polys = append(polys, p)
		}
		s := newScreen(polys)
		for range 300 {
			u, v := rng.Float64()*100, float64(rng.IntN(100))
			require.Equal(t, within(polys, u, v), s.hides(u, v))
			if s.hides(u, v) {
				hidden++
			}
		}
	}
	assert.Greater(t, hidden, 500)
}
