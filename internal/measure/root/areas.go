package root

import (
	"math"

	"phototrack/internal/raster"
)

// areas are areas of wall within the counted azimuths, mm2, and shares of them.
type areas struct {
	wall        float64 // between rim and foot
	cover       float64 // covered by roots
	seenShare   float64
	hiddenShare float64
	oddShare    float64 // neither medium nor root, by the sum of all that the network makes of it
	lostMM2     float64 // not seen
	leftShare   float64 // of that, left out by the grower
	cutShare    float64 // outside the photo
}

// leastCos2 is less than the squared cosine of any azimuth that is counted, which at the limit of 60 degrees is a quarter: it keeps places just
// beyond from being divided by nothing.
const leastCos2 = 0.2

// areas sums wall area: a pixel of the frontal view at azimuth a shows 1/cos(a) times its own area of wall.
func (f *found) areas() areas {
	s := f.sh
	var a areas
	var lost, behind, left, gone, odd float64
	y0, y1 := int(rimMM/s.Step), s.H-int(f.foot/s.Step)
	for y := y0; y < y1; y++ {
		r := s.s.Radius(float64(y)*s.Step/s.slant) / s.Step
		half := int(r * math.Sin(limitAzimuth))
		for x := max(0, int(s.Mid)-half); x <= min(s.W-1, int(s.Mid)+half); x++ {
			sin := (float64(x) - s.Mid) / r
			mm2 := s.Step * s.Step / math.Sqrt(math.Max(leastCos2, 1-sin*sin))
			i := y*s.W + x
			a.wall += mm2
			odd += mm2 * float64(f.reg.hidden.Pix[i]+f.reg.onWall.Pix[i])
			switch {
			case s.Seen.Pix[i] == 0:
				lost += mm2
				left += mm2 * float64(f.left.Pix[i])
				if s.outside(x, y) {
					gone += mm2
				}
			case f.own.Pix[i] != 0:
				a.cover += mm2
			case f.reg.hidden.Pix[i] > 0.5:
				behind += mm2
			}
		}
	}
	if a.wall > 0 {
		a.hiddenShare, a.leftShare, a.cutShare, a.oddShare = behind/a.wall, left/a.wall, gone/a.wall, odd/a.wall
		a.lostMM2 = lost + behind
		a.seenShare = 1 - a.lostMM2/a.wall
	}
	return a
}

// outside says that the photo ends before it shows this place of the view.
func (s *sheet) outside(x, y int) bool {
	u, v, ok := s.pixel(float64(x), float64(y))
	return !ok || u < 1 || v < 1 || u > float64(s.frameW-3) || v > float64(s.frameH-3)
}

const (
	ownReach  = 1.15 // times its largest half width: as far from a centreline a pixel is of that root; by eye
	ownMostMM = 4.5  // and no farther than this: about half of mostDiameter
)

// rootMask is the mask of those pieces that were taken for roots: within a half width and a bit of their centrelines.
func (f *found) rootMask() raster.Mask {
	s := f.sh
	line := raster.NewMask(s.W, s.H)
	reach := 0.0
	for _, i := range f.roots {
		st := &f.strands[i]
		for k, p := range st.px {
			x, y := int(p.X+0.5), int(p.Y+0.5)
			if st.kept[k] && x >= 0 && y >= 0 && x < s.W && y < s.H {
				line.Pix[y*s.W+x] = 1
				reach = math.Max(reach, st.src.Radius[k])
			}
		}
	}
	out := dilated(line, math.Min(ownReach*reach, ownMostMM/s.Step)+1)
	for i := range out.Pix {
		out.Pix[i] &= f.mask.Pix[i]
	}
	return out
}
