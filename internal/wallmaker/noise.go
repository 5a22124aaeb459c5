package wallmaker

import (
	"math"
	"math/rand/v2"
	"sync"
)

const texSide = 256

// tex is a texture that joins with itself at its borders, values about -1..1.
type tex []float32

// at looks the texture up between its points; x and y in points.
func (t tex) at(x, y float64) float32 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx)&(texSide-1), int(fy)&(texSide-1)
	u, v := float32(x-fx), float32(y-fy)
	i1, j1 := (i+1)&(texSide-1), (j+1)&(texSide-1)
	a, b := t[j*texSide+i], t[j*texSide+i1]
	p, q := t[j1*texSide+i], t[j1*texSide+i1]
	a += u * (b - a)
	p += u * (q - p)
	return a + v*(p-a)
}

// textures are drawn once for the process; samples differ by where and how they look them up.
type textures struct{ cloud, rough, grain, fibre, vein tex }

var drawnOnce = sync.OnceValue(func() *textures {
	r := rand.New(rand.NewPCG(7, 11))
	t := &textures{cloud: octaves(r, 4, 4, 5), rough: octaves(r, 24, 24, 4), grain: octaves(r, 96, 96, 2), fibre: octaves(r, 64, 6, 3)}
	t.vein = make(tex, len(t.cloud))
	for i, v := range octaves(r, 8, 8, 4) {
		t.vein[i] = float32(1 - 2.5*math.Abs(float64(v)))
	}
	return t
})

// octaves sums noise of nx by ny cells and finer ones, scaled to a spread of 0.5.
func octaves(r *rand.Rand, nx, ny, n int) tex {
	t := make(tex, texSide*texSide)
	amp := float32(1)
	for range n {
		nx, ny = min(nx, texSide), min(ny, texSide)
		cell := make([]float32, nx*ny)
		for i := range cell {
			cell[i] = float32(r.NormFloat64())
		}
		for y := range texSide {
			fy := float64(y) * float64(ny) / texSide
			for x := range texSide {
				fx := float64(x) * float64(nx) / texSide
				i, j := int(fx), int(fy)
				u, v := smooth(fx-float64(i)), smooth(fy-float64(j))
				a, b := cell[j*nx+i], cell[j*nx+(i+1)%nx]
				p, q := cell[(j+1)%ny*nx+i], cell[(j+1)%ny*nx+(i+1)%nx]
				a += u * (b - a)
				p += u * (q - p)
				t[y*texSide+x] += amp * (a + v*(p-a))
			}
		}
		amp *= 0.6
		nx, ny = 2*nx, 2*ny
	}
	var ss float64
	for _, v := range t {
		ss += float64(v) * float64(v)
	}
	k := float32(0.5 / math.Sqrt(ss/float64(len(t))))
	for i := range t {
		t[i] *= k
	}
	return t
}

func smooth(t float64) float32 { return float32(t * t * (3 - 2*t)) }

// swatch is one way of looking a texture up: turned, scaled and shifted.
type swatch struct {
	t              tex
	ux, uy, vx, vy float64
	u0, v0         float64
}

// swatch draws a way of looking t up in which cell mm is one point of the texture; along stretches it in the direction
// turn.
func (d dice) swatch(t tex, mm, turn, along float64) swatch {
	s, c := math.Sincos(turn)
	return swatch{t, c / mm / along, s / mm / along, -s / mm, c / mm, d.in(0, texSide), d.in(0, texSide)}
}

func (s *swatch) at(x, y float64) float32 {
	return s.t.at(s.u0+x*s.ux+y*s.uy, s.v0+x*s.vx+y*s.vy)
}
