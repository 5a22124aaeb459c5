package root

import (
	"math"

	"phototrack/internal/raster"
)

// What is seen through the pot beside and above its filling is not wall to be judged: the backdrop, and leaves above the
// substrate.

// Of the wall the moulded rim and foot show nothing, mm.
const rimMM, footMM, guessedFootMM = 5.0, 2.5, 7.0

// backdrop is the region, hanging together with the outside of the pot, that has the colour the same rows have beside
// the pot: the wall is clear there and nothing lies behind it but the room.
func backdrop(s *sheet) raster.Mask {
	like := raster.NewMask(s.W, s.H)
	seed := raster.NewMask(s.W, s.H)
	for y := range s.H {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		for _, side := range [2]float64{-1, 1} {
			c, ok := besidePot(s, y, side, r)
			if !ok {
				continue
			}
			for k := 0.70 * r; k < outside*r; k++ {
				x := int(s.Mid + side*k + 0.5)
				if x < 0 || x >= s.W {
					break
				}
				i := y*s.W + x
				if s.Seen.Pix[i] == 0 {
					continue
				}
				dl, da, db := s.L.Pix[i]-c[0], s.A.Pix[i]-c[1], s.B.Pix[i]-c[2]
				// The wall takes some light and blurs: darker is likelier than brighter.
				if dl > -14 && dl < 7 && da*da+db*db < 4.5*4.5 {
					like.Pix[i] = 1
					if k > 0.97*r {
						seed.Pix[i] = 1
					}
				}
			}
		}
	}
	// A pale root that runs out in front of the backdrop hangs together with it but is narrow.
	return grown(opened(flood(opened(like, 1.5), seed), 2.8/s.Step), 2)
}

// besidePot is the mean colour of the strip beside the pot at a row.
func besidePot(s *sheet, y int, side, r float64) (c [3]float32, ok bool) {
	n := float32(0)
	for dy := -4; dy <= 4; dy += 2 {
		v := min(max(y+dy, 0), s.H-1)
		for k := 1.06 * r; k < 1.14*r; k += 2 {
			x := int(s.Mid + side*k + 0.5)
			if x < 0 || x >= s.W || s.Seen.Pix[v*s.W+x] == 0 {
				continue
			}
			i := v*s.W + x
			c[0] += s.L.Pix[i]
			c[1] += s.A.Pix[i]
			c[2] += s.B.Pix[i]
			n++
		}
	}
	if n < 5 {
		return c, false
	}
	return [3]float32{c[0] / n, c[1] / n, c[2] / n}, true
}

// leavesAbove is the leaf green that hangs together with the rim and is wider than any root.
func leavesAbove(s *sheet) raster.Mask {
	green, seed := raster.NewMask(s.W, s.H), raster.NewMask(s.W, s.H)
	for i := range green.Pix {
		if s.Seen.Pix[i] != 0 && s.A.Pix[i] < -6 && math.Hypot(float64(s.A.Pix[i]), float64(s.B.Pix[i])) > 10 {
			green.Pix[i] = 1
			if i/s.W < int((rimMM+2)/s.Step) {
				seed.Pix[i] = 1
			}
		}
	}
	wide := flood(opened(green, 3.2/s.Step), seed)
	near := grown(wide, 2.5/s.Step)
	for i := range near.Pix { // the wide part and the green that frays out from it
		near.Pix[i] &= green.Pix[i] | wide.Pix[i]
	}
	return grown(near, 2)
}

// fillingTop is, for every column, the row where the filling of the pot begins: above it the camera looks through the
// wall at leaves and at the room. The filling is dark and reddish; the line is smoothed over neighbouring columns, as a
// root or a gap in the bark may hide its edge.
func fillingTop(s *sheet, leaves, backdrop raster.Mask) []int {
	run := max(3, int(1.5/s.Step))
	top := make([]int, s.W)
	deepest := s.H * 2 / 5
	for x := range s.W {
		top[x] = -1
		n := 0
		for y := int(rimMM / s.Step); y < deepest; y++ {
			i := y*s.W + x
			if s.Seen.Pix[i] != 0 && leaves.Pix[i] == 0 && backdrop.Pix[i] == 0 && s.A.Pix[i] > 1.2 && s.L.Pix[i] < 45 {
				n++
			} else {
				n = 0
			}
			if n >= run {
				top[x] = y - run + 1
				break
			}
		}
	}
	reach := int(8 / s.Step)
	out := make([]int, s.W)
	for x := range s.W {
		var near []float64
		for u := max(0, x-reach); u <= min(s.W-1, x+reach); u += 2 {
			if top[u] >= 0 {
				near = append(near, float64(top[u]))
			}
		}
		out[x] = int(rimMM / s.Step)
		if len(near) > 4 {
			out[x] = int(quantile(near, 0.4))
		}
	}
	return out
}
