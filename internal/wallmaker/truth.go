package wallmaker

import "math"

// surfaceMM is how far inside the wall the drawn surface lies: where the middle of a common root runs.
const surfaceMM = 1.8

// Course is the true middle line of a drawn root.
type Course struct {
	Az, Y, R   []float64 // azimuth, rad; mm below the rim; distance from the pot's axis, mm
	Seen       []bool    // the root is what is seen there
	DiameterMM float64
	Old        bool
	id         uint16
}

func (c *Course) add(az, y, r float64) {
	c.Az, c.Y, c.R = append(c.Az, az), append(c.Y, y), append(c.R, r)
}

// Length is what is seen of the course within azimuth -limit to limit, mm in space.
func (c *Course) Length(limit float64) (mm float64) {
	for i := 1; i < len(c.Az); i++ {
		if !c.Seen[i] || !c.Seen[i-1] || math.Abs(c.Az[i]) > limit || math.Abs(c.Az[i-1]) > limit {
			continue
		}
		turn := (c.R[i] + c.R[i-1]) / 2 * (c.Az[i] - c.Az[i-1])
		mm += math.Sqrt(turn*turn + (c.Y[i]-c.Y[i-1])*(c.Y[i]-c.Y[i-1]) + (c.R[i]-c.R[i-1])*(c.R[i]-c.R[i-1]))
	}
	return mm
}

// see tells which points of the courses are seen: the root lies in front there and nothing on the wall hides it.
func (c *canvas) see() {
	for k := range c.courses {
		q := &c.courses[k]
		q.Seen = make([]bool, len(q.Az))
		for i := range q.Az {
			u, v := c.px(q.R[i]*math.Sin(q.Az[i]), q.Y[i])
			x, y := int(u+0.5), int(v+0.5)
			if x < 0 || y < 0 || x >= c.w || y >= c.h || math.Abs(q.Az[i]) > math.Pi/2 {
				continue
			}
			j := y*c.w + x
			q.Seen[i] = c.id[j] == q.id && c.class[j] != Hidden && c.class[j] != Nothing
		}
	}
}
