package wallmaker

import "math"

// LineMM is half the width of the line that Lines draws.
const LineMM = 0.4

// Lines is 1 where a root's middle line is seen, LineMM to either side of it, and 0 elsewhere. Two roots that touch make one body of
// root, but two lines.
func (s *Sample) Lines() []uint8 {
	out := make([]uint8, s.W*s.H)
	const r = LineMM * PxPerMM
	for k := range s.Courses {
		c := &s.Courses[k]
		at := func(i int) (x, y float64) {
			return float64(s.Mid) + c.R[i]*math.Sin(c.Az[i])*PxPerMM, float64(s.Top) + c.Y[i]*PxPerMM
		}
		for i := 1; i < len(c.Az); i++ {
			if !c.Seen[i] || !c.Seen[i-1] {
				continue
			}
			x0, y0 := at(i - 1)
			x1, y1 := at(i)
			dx, dy := x1-x0, y1-y0
			l2 := math.Max(1e-9, dx*dx+dy*dy)
			for y := max(0, int(math.Min(y0, y1)-r)); y <= min(s.H-1, int(math.Max(y0, y1)+r)+1); y++ {
				for x := max(0, int(math.Min(x0, x1)-r)); x <= min(s.W-1, int(math.Max(x0, x1)+r)+1); x++ {
					px, py := float64(x)-x0, float64(y)-y0
					t := math.Max(0, math.Min(1, (px*dx+py*dy)/l2))
					px, py = px-t*dx, py-t*dy
					if px*px+py*py <= r*r && s.Class[y*s.W+x] != Nothing {
						out[y*s.W+x] = 1
					}
				}
			}
		}
	}
	return out
}
