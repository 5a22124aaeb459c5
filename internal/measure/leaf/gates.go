package leaf

import (
	"fmt"
	"math"
	"slices"

	"phototrack/internal/record"
)

// Limits of the gates that the leaves themselves decide; their rows are in package gate.
const (
	maxFrameShare  = 0.03 // of the outline that may run along the frame's edge
	maxBehindShare = 0.05 // of the leaf area
	maxBloomShare  = 0.01
	maxSoftness    = 1.5 // width of the leaves' edges over that of the card's
	minLikeness    = 12  // CIELAB distance between leaves and ground, lightness at half weight
)

func reasons(fd *found, t *tally) (out []record.Reason) {
	add := func(code, format string, args ...any) {
		out = append(out, record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)})
	}
	if s := fd.f.atFrame(); s > maxFrameShare {
		add("cut_off", "%.0f %% of the outline", 100*s)
	}
	if s := fd.behindShare / math.Max(1e-9, 1-fd.behindShare); s > maxBehindShare {
		add("behind", "%.0f %% of the leaf area", 100*s)
	}
	if fd.softness > maxSoftness {
		add("soft_leaves", "edges %.1f times as wide as the card's", fd.softness)
	}
	if s := fd.bloomMM2 / t.area; s > maxBloomShare {
		add("bloom", "%.0f mm2", fd.bloomMM2)
	}
	if fd.likeness < minLikeness {
		add("backdrop", "colour distance %.0f", fd.likeness)
	}
	return
}

// atFrame is the share of the outline that lies on the edge of the picture.
func (f *fine) atFrame() float64 {
	edge, all := 0, 0
	for y := range f.h {
		row := f.mask[y*f.w : (y+1)*f.w]
		for x, v := range row {
			if v == 0 {
				continue
			}
			if x == 0 || x == f.w-1 || y == 0 || y == f.h-1 {
				edge++
				all++
			} else if row[x-1] == 0 || row[x+1] == 0 || f.mask[(y-1)*f.w+x] == 0 || f.mask[(y+1)*f.w+x] == 0 {
				all++
			}
		}
	}
	return float64(edge) / float64(max(1, all))
}

// likeness is the median over the leaves of the colour distance to the nearest shade of a major colour of the ground.
func likeness(g *grid, m []uint8, colours []groundColour) float64 {
	var d []float32
	for i := 0; i < len(m); i += 7 {
		if m[i] == 0 {
			continue
		}
		best := float32(math.MaxFloat32)
		for n := range colours {
			if colours[n].share > majorGround {
				best = min(best, colours[n].away(g.L[i], g.A[i], g.B[i]))
			}
		}
		d = append(d, best)
	}
	if len(d) == 0 {
		return math.Inf(1)
	}
	slices.Sort(d)
	return math.Sqrt(float64(d[len(d)/2]))
}
