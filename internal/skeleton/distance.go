package skeleton

import (
	"math"

	"phototrack/internal/raster"
)

// Distance is the exact Euclidean distance, px, from every pixel of the mask to the nearest pixel outside it
// (Felzenszwalb & Huttenlocher 2012, Theory Comput. 8:415-428); 0 outside. Beyond the border counts as inside, so that
// a body cut by the border keeps its width.
func Distance(m raster.Mask) raster.Float {
	out := raster.NewFloat(m.W, m.H)
	n := max(m.W, m.H)
	f, v, z := make([]float64, n), make([]int, n), make([]float64, n+1)
	// Along columns first, where the squared distance is a plain count.
	for x := range m.W {
		alongColumn(m, x, out)
	}
	for y := range m.H {
		row := out.Pix[y*m.W : (y+1)*m.W]
		any := false
		for x, d := range row {
			f[x] = float64(d) * float64(d)
			any = any || d > 0
		}
		if any {
			envelope(f[:m.W], v, z, row)
		}
	}
	return out
}

// alongColumn gives the pixels of a column their distance from the nearest one outside in the same column.
func alongColumn(m raster.Mask, x int, out raster.Float) {
	const far = 1 << 28
	d := far
	next := func(i int) float32 {
		if m.Pix[i] == 0 {
			d = 0
		} else if d < far {
			d++
		}
		return float32(d)
	}
	for y := range m.H {
		out.Pix[y*m.W+x] = next(y*m.W + x)
	}
	d = far
	for y := m.H - 1; y >= 0; y-- {
		i := y*m.W + x
		out.Pix[i] = min(out.Pix[i], next(i))
	}
}

// envelope writes to row the square root of the lower envelope of the parabolas (x - i)^2 + f[i].
func envelope(f []float64, v []int, z []float64, row []float32) {
	k := 0
	v[0], z[0], z[1] = 0, math.Inf(-1), math.Inf(1)
	for q := 1; q < len(f); q++ {
		s := cross(f, q, v[k])
		for s <= z[k] {
			k--
			s = cross(f, q, v[k])
		}
		k++
		v[k], z[k], z[k+1] = q, s, math.Inf(1)
	}
	k = 0
	for q := range f {
		for z[k+1] < float64(q) {
			k++
		}
		d := float64(q - v[k])
		row[q] = float32(math.Sqrt(d*d + f[v[k]]))
	}
}

func cross(f []float64, q, p int) float64 {
	return (f[q] + float64(q*q) - f[p] - float64(p*p)) / float64(2*(q-p))
}
