package root

import (
	"math"
	"sort"

	"phototrack/internal/raster"
)

// streak is a window mirrored in the wall: a bright band with two sharp edges that follows a line of constant azimuth
// down from the rim. A mirror image adds its light to what is behind the wall and hides nothing until the camera is at
// its limit, so its light can be taken off again.
type streak struct {
	a0, a1 float64 // its edges, as shares of the radius (sines of azimuth), left and right
	y0, y1 int     // its rows
	lost   bool    // too bright or too noisy to see through
}

const (
	streakStep    = 5.0  // least lightness step at an edge
	streakFromMM  = 3.5  // looked for from just under the rim's lip
	streakLeastMM = 14.0 // shortest band
	streakWideMM  = 24.0
	streakThinMM  = 1.2
)

// findStreaks looks for edges along lines of constant azimuth that run down from the rim without a break. No root
// begins above the substrate and no leaf edge runs exactly along the wall's own lines, so the rows under the rim decide.
func findStreaks(s *sheet) []streak {
	const d = 0.7                    // mm to either side of an edge
	n := int(0.95 * s.Mid / outside) // columns each side of the middle
	block := max(1, int(1.0/s.Step)) // rows averaged
	blocks := s.H / block
	rise := make([][]float32, 2*n+1) // lightness step from left to right, by column and block
	rRim := s.s.Radius(0)
	for k := range rise {
		rise[k] = make([]float32, blocks)
		a := float64(k-n) * s.Step / rRim
		for b := range blocks {
			var sum float32
			for y := b * block; y < (b+1)*block; y += 2 {
				r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
				sum += s.lightness(s.Mid+a*r+d/s.Step, y) - s.lightness(s.Mid+a*r-d/s.Step, y)
			}
			rise[k][b] = sum / float32((block+1)/2)
		}
	}
	first := int(streakFromMM / s.Step / float64(block))
	left := edgeRuns(rise, first, +1)
	right := edgeRuns(rise, first, -1)
	least := int(streakLeastMM / s.Step / float64(block))
	var out []streak
	for k := 0; k < len(left); k++ {
		if left[k] < least || !peak(left, rise, k, first, +1) {
			continue
		}
		for j := k + int(streakThinMM/s.Step); j < len(right) && j < k+int(streakWideMM/s.Step); j++ {
			if right[j] < least || !peak(right, rise, j, first, -1) {
				continue
			}
			rows := min(left[k], right[j]) // a root beside it may carry one edge on
			out = append(out, streak{a0: float64(k-n) * s.Step / rRim, a1: float64(j-n) * s.Step / rRim, y1: (first + rows) * block})
			k = j
			break
		}
	}
	return out
}

func (s *sheet) lightness(x float64, y int) float32 {
	i := int(x + 0.5)
	if i < 0 || i >= s.W {
		return 0
	}
	return s.L.Pix[y*s.W+i]
}

// edgeRuns gives for every column how many blocks from first on have a step of that sign, breaks of up to 4 allowed.
func edgeRuns(rise [][]float32, first int, sign float32) []int {
	out := make([]int, len(rise))
	for k, col := range rise {
		gap, end, hits := 0, 0, 0
		for b := first; b < len(col) && gap < 5; b++ {
			if sign*col[b] > streakStep {
				gap, end = 0, b-first+1
				hits++
			} else {
				gap++
				if end == 0 && gap > 2 {
					break
				}
			}
		}
		if hits*10 >= end*7 {
			out[k] = end
		}
	}
	return out
}

// peak says that the column has the strongest step of its neighbours within the width of a blurred edge.
func peak(run []int, rise [][]float32, k, first int, sign float32) bool {
	mean := func(j int) (m float32) {
		for b := first; b < first+run[k] && b < len(rise[j]); b++ {
			m += sign * rise[j][b]
		}
		return m
	}
	own := mean(k)
	for j := max(0, k-3); j <= min(len(rise)-1, k+3); j++ {
		if j != k && (mean(j) > own || mean(j) == own && j < k) {
			return false
		}
	}
	return true
}

// takeOff removes a streak's light from the sheet: at every row the light of the darkest fifth of the band nearby,
// less the light of the ground beside it, is subtracted from X, Y and Z. Pixels that are lost are cleared in seen.
func (st *streak) takeOff(s *sheet, g *ground, seen raster.Mask) {
	type xyz struct{ x, y, z float32 }
	half := int(8 / s.Step)
	rows := make([][]xyz, st.y1)
	span := func(y int) (int, int) {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		return max(0, int(s.Mid+st.a0*r+0.5)), min(s.W-1, int(s.Mid+st.a1*r+0.5))
	}
	clipped, all := 0, 0
	for y := range rows {
		x0, x1 := span(y)
		in := min(4, (x1-x0)/3) // clear of the blurred edges
		for x := x0 + in; x <= x1-in; x++ {
			i := y*s.W + x
			all++
			p := s.Pic.Pix[3*i : 3*i+3]
			if min(p[0], p[1], p[2]) >= 250 {
				clipped++
			}
			px, py, pz := toXYZ(s.L.Pix[i], s.A.Pix[i], s.B.Pix[i])
			rows[y] = append(rows[y], xyz{px, py, pz})
		}
	}
	var pool []xyz
	for y := range rows {
		pool = pool[:0]
		for v := max(st.y0, y-half); v <= min(len(rows)-1, y+half); v += 3 {
			pool = append(pool, rows[v]...)
		}
		if len(pool) < 5 {
			continue
		}
		sort.Slice(pool, func(i, j int) bool { return pool[i].y < pool[j].y })
		dark := pool[:max(1, len(pool)/4)]
		var m xyz
		for _, p := range dark {
			k := 1 / float32(len(dark))
			m.x, m.y, m.z = m.x+k*p.x, m.y+k*p.y, m.z+k*p.z
		}
		x0, x1 := span(y)
		gl, ga := g.at((x0+x1)/2, y)
		gx, gy, gz := toXYZ(gl, ga, 8)
		for x := x0 - 2; x <= x1+2; x++ {
			if x < 0 || x >= s.W {
				continue
			}
			i := y*s.W + x
			if p := s.Pic.Pix[3*i : 3*i+3]; min(p[0], p[1], p[2]) >= 252 {
				continue
			}
			// a blurred edge carries a part of it
			k := min(1, float32(min(x-x0, x1-x)+3)/6)
			px, py, pz := toXYZ(s.L.Pix[i], s.A.Pix[i], s.B.Pix[i])
			s.L.Pix[i], s.A.Pix[i], s.B.Pix[i] = toLab(px-k*max(0, m.x-gx), py-k*max(0, m.y-gy), pz-k*max(0, m.z-gz))
		}
	}
	st.lost = all > 0 && clipped*2 > all
	if st.lost {
		for y := range rows {
			x0, x1 := span(y)
			for x := x0; x <= x1; x++ {
				seen.Pix[y*s.W+x] = 0
			}
		}
	}
}

// toXYZ and toLab are CIE 15's formulas with the white point as unit of X, Y, Z.
func toXYZ(l, a, b float32) (x, y, z float32) {
	f := (l + 16) / 116
	return cube(f + a/500), cube(f), cube(f - b/200)
}

func cube(f float32) float32 {
	if f > 6.0/29 {
		return f * f * f
	}
	return 3 * (6.0 / 29) * (6.0 / 29) * (f - 4.0/29)
}

func toLab(x, y, z float32) (l, a, b float32) {
	f := func(t float32) float32 {
		if t > 216.0/24389 {
			return float32(math.Cbrt(float64(t)))
		}
		return (24389.0/27*max(t, 0) + 16) / 116
	}
	fx, fy, fz := f(x), f(y), f(z)
	return 116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)
}

// mark sets the streak's pixels in m.
func (st *streak) mark(s *sheet, m raster.Mask) {
	for y := st.y0; y < st.y1; y++ {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		for x := max(0, int(s.Mid+st.a0*r)-1); x <= min(s.W-1, int(s.Mid+st.a1*r)+2); x++ {
			m.Pix[y*s.W+x] = 1
		}
	}
}
