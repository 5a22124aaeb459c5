package wallmaker

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A sample is a function of its seed: training can be repeated.
func TestSamplesFollowFromTheirSeed(t *testing.T) {
	a, b, c := Draw(3, 64, 64), Draw(3, 64, 64), Draw(4, 64, 64)
	assert.Equal(t, a, b)
	assert.NotEqual(t, a.RGB, c.RGB)
	e := Again(3, 1, 64, 64)
	assert.NotEqual(t, a.RGB, e.RGB)
	assert.Equal(t, len(a.Courses), len(e.Courses), "the same roots in another photo")
	for i := range a.Courses {
		assert.Equal(t, a.Courses[i].Y, e.Courses[i].Y)
	}
}

// The classes fit the picture: codes of the list only, nothing seen where nothing is shown, and over some samples every
// class is met.
func TestClassesFitThePicture(t *testing.T) {
	var met [Classes]int
	for seed := uint64(10); seed < 30; seed++ {
		s := Draw(seed, 96, 96)
		for i, c := range s.Class {
			if c == Nothing {
				continue
			}
			if assert.Less(t, int(c), Classes) {
				met[c]++
			}
			x, y := float64(i%s.W), float64(i/s.W)
			r := float64(s.R0) + float64(s.K)*(y-float64(s.Top))
			assert.LessOrEqual(t, math.Abs(x-float64(s.Mid)), r+2, "no wall beside the pot")
		}
	}
	for c, n := range met {
		assert.Positive(t, n, c)
	}
}

// Where a course is seen, the class there is that of a root, or of a thin mark on the wall before it.
func TestSeenCoursesAreRootInTheClasses(t *testing.T) {
	right, all := 0, 0
	for seed := uint64(40); seed < 52; seed++ {
		s := Draw(seed, 128, 128)
		for _, c := range s.Courses {
			for i := range c.Az {
				if !c.Seen[i] {
					continue
				}
				x, y := float64(s.Mid)+c.R[i]*math.Sin(c.Az[i])*PxPerMM, float64(s.Top)+c.Y[i]*PxPerMM
				all++
				if isRoot(s.Class[int(y+0.5)*s.W+int(x+0.5)]) {
					right++
				}
			}
		}
	}
	assert.Positive(t, all)
	assert.GreaterOrEqual(t, float64(right), 0.93*float64(all))
}

// The length of a straight course on a cylinder: along the axis its height, round it radius times angle.
func TestCourseLength(t *testing.T) {
	var up, round Course
	for i := range 101 {
		up.add(0.2, float64(i)/2, 40)
		round.add(float64(i)/100, 20, 40)
	}
	for _, c := range []*Course{&up, &round} {
		c.Seen = make([]bool, len(c.Az))
		for i := range c.Seen {
			c.Seen[i] = true
		}
	}
	assert.InDelta(t, 50, up.Length(1.1), 1e-9)
	assert.InDelta(t, 40, round.Length(1.1), 1e-9)
	assert.InDelta(t, 20, round.Length(0.5), 0.5)
}

func BenchmarkDraw(b *testing.B) {
	for i := range b.N {
		Draw(uint64(i+1), 384, 384)
	}
}
