package wallmaker

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Two straight roots side by side make one body, but two lines as far apart as their middles; what is not seen has none.
func TestLinesOfRootsThatTouch(t *testing.T) {
	s := Sample{W: 80, H: 60, Class: make([]uint8, 80*60), Mid: 40, Top: 0}
	for _, x := range [2]float64{-1, 1} { // mm beside the middle, on a wall so wide that it is flat
		var c Course
		for i := range 26 {
			c.add(x/1e4, 2+float64(i)/2, 1e4)
			c.Seen = append(c.Seen, i < 13)
		}
		s.Courses = append(s.Courses, c)
	}
	l := s.Lines()
	count := func(y int) (n int, at []float64) {
		var sum float64
		for x := 0; x < 80; x++ {
			if l[y*80+x] != 0 {
				sum, n = sum+float64(x), n+1
				if x == 79 || l[y*80+x+1] == 0 {
					at = append(at, sum/float64(n))
					sum, n = 0, 0
				}
			}
		}
		return len(at), at
	}
	n, at := count(20)
	assert.Equal(t, 2, n)
	assert.InDelta(t, 2*PxPerMM, at[1]-at[0], 0.01)
	n, _ = count(45)
	assert.Zero(t, n, "not seen there")
	var area float64
	for _, v := range l {
		area += float64(v)
	}
	assert.InDelta(t, 2*(6*2*LineMM+math.Pi*LineMM*LineMM)*PxPerMM*PxPerMM, area, 40)
}
