package regions

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The code for processors with AVX2 gives what that for any processor gives, to the last digit, and the mean of two looks is what is
// told here plainly.
func TestProcessorsDecodeAlike(t *testing.T) {
	const w, h = 37, 11
	rng := rand.New(rand.NewPCG(3, 4))
	look := func() Map {
		l := make([]float32, Outputs*w*h)
		for i := range l {
			l[i] = float32(8 * rng.NormFloat64())
		}
		fast, err := Decode(l, w, h, 1.1)
		require.NoError(t, err)
		forAnyProcessor(true)
		plain, err := Decode(l, w, h, 1.1)
		forAnyProcessor(false)
		require.NoError(t, err)
		require.Equal(t, plain, fast)
		return fast
	}
	copied := func(m Map) Map {
		for c := range m.P {
			m.P[c] = append([]float32(nil), m.P[c]...)
		}
		m.Class, m.Apart = append([]Class(nil), m.Class...), make([]float32, m.W*m.H)
		return m
	}
	a, b := look(), look()
	fast, plain := copied(a), copied(a)
	average(&fast, &b)
	forAnyProcessor(true)
	average(&plain, &b)
	forAnyProcessor(false)
	assert.Equal(t, plain, fast)
	for i := range a.Class {
		j := i/a.W*a.W + a.W - 1 - i%a.W
		best := Class(0)
		for c := range a.P {
			assert.Equal(t, (a.P[c][i]+b.P[c][j])/2, fast.P[c][i])
			if fast.P[c][i] > fast.P[best][i] {
				best = Class(c)
			}
		}
		assert.Equal(t, best, fast.Class[i])
		d := a.P[Leaf][i] - b.P[Leaf][j]
		assert.Equal(t, max(d, -d), fast.Apart[i])
	}
}
