package leaf

import "math"

// A backdrop colour is kept as (L*+16, a*, b*): dimming the light by a factor f scales all three by the cube root of f,
// so the shadows on a ground of one colour lie on the ray from the origin through it (CIELAB's curve above L* = 8).
type groundColour struct {
	v     [3]float32
	share float64
}

const (
	// Lightness counts half: light falls unevenly on any ground, hue and chroma stay.
	lightWeight = 0.5
	// Shadow down to a fifth of the light, lamps up to a third more than at the frame's edge.
	shadeLow, shadeHigh = 0.58, 1.10
)

// learnBackdrop finds the colours round the frame: up to four clusters of (L, a, b), started from mutually distant
// samples, so that the result does not depend on chance.
func learnBackdrop(g *grid) []groundColour {
	b := max(3, min(g.w, g.h)/40)
	var s [][3]float32
	add := func(x, y int) {
		if i := y*g.w + x; g.block[i] == 0 {
			s = append(s, [3]float32{lightWeight * (g.L[i] + 16), g.A[i], g.B[i]})
		}
	}
	step := max(2, (g.w+g.h)/200)
	for y := 0; y < b; y += 2 {
		for x := 0; x < g.w; x += step {
			add(x, y)
			add(x, g.h-1-y)
		}
	}
	for x := 0; x < b; x += 2 {
		for y := b; y < g.h-b; y += step {
			add(x, y)
			add(g.w-1-x, y)
		}
	}
	if len(s) < 20 {
		return nil
	}
	return cluster(s, 4)
}

func cluster(s [][3]float32, k int) []groundColour {
	var mean [3]float32
	for _, v := range s {
		for c := range 3 {
			mean[c] += v[c] / float32(len(s))
		}
	}
	centres := [][3]float32{mean}
	dist := make([]float32, len(s))
	for i := range dist {
		dist[i] = math.MaxFloat32
	}
	for len(centres) < k {
		// The next start is the sample at the 98th percentile of distance: the farthest of all is often a stray pixel.
		last := centres[len(centres)-1]
		for i, v := range s {
			dist[i] = min(dist[i], sq3(v, last))
		}
		centres = append(centres, s[rank(dist, 0.98)])
	}
	owner := make([]int, len(s))
	n := make([]int, k)
	for range 12 {
		sum := make([][3]float32, k)
		clear(n)
		for i, v := range s {
			best := 0
			for c := range centres {
				if sq3(v, centres[c]) < sq3(v, centres[best]) {
					best = c
				}
			}
			owner[i] = best
			n[best]++
			for c := range 3 {
				sum[best][c] += v[c]
			}
		}
		for c := range centres {
			if n[c] > 0 {
				for j := range 3 {
					centres[c][j] = sum[c][j] / float32(n[c])
				}
			}
		}
	}
	var out []groundColour
	for c := range centres {
		if share := float64(n[c]) / float64(len(s)); share > 0.03 {
			out = append(out, groundColour{centres[c], share})
		}
	}
	return out
}

func sq3(a, b [3]float32) float32 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return x*x + y*y + z*z
}

// rank gives the index of the sample at fraction q of the order.
func rank(v []float32, q float64) int {
	idx := make([]int, len(v))
	for i := range idx {
		idx[i] = i
	}
	sortBy(idx, v)
	return idx[min(len(idx)-1, int(q*float64(len(idx))))]
}

// away gives the squared distance of a colour to the nearest shade of the ground colour.
func (c *groundColour) away(L, a, b float32) float32 {
	v := [3]float32{lightWeight * (L + 16), a, b}
	cc := c.v[0]*c.v[0] + c.v[1]*c.v[1] + c.v[2]*c.v[2]
	t := (v[0]*c.v[0] + v[1]*c.v[1] + v[2]*c.v[2]) / cc
	t = max(shadeLow, min(shadeHigh, t))
	return sq3(v, [3]float32{t * c.v[0], t * c.v[1], t * c.v[2]})
}
