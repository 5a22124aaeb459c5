package leaf

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/colour"
)

func TestClassTable(t *testing.T) {
	ct := DefaultClasses()
	f := newFastClasses(&ct)
	at := func(L, c, h float64) (float64, float64, float64) {
		s, k := math.Sincos(h * math.Pi / 180)
		return L, c * k, c * s
	}
	for _, c := range []struct {
		name    string
		l, c, h float64
		want    uint8
	}{
		{"leaf green", 45, 35, 131, Green},
		{"first green", 45, 35, 108.01, Green},
		{"last yellow", 60, 35, 107.99, Yellow},
		{"first yellow", 60, 35, 80.01, Yellow},
		{"last brown", 35, 25, 79.99, Brown},
		{"first brown", 35, 25, 30.01, Brown},
		{"last purple", 30, 25, 29.99, Purple},
		{"purple over zero", 30, 25, 355, Purple},
		{"first purple", 30, 25, 270.01, Purple},
		{"blue-green", 50, 20, 200, Green},
		{"grey", 50, 5.9, 131, NoClass},
		{"glare", 90, 10, 100, NoClass},
		{"bright but coloured", 90, 40, 100, Yellow},
	} {
		l, a, b := at(c.l, c.c, c.h)
		assert.Equal(t, c.want, ct.Of(l, a, b), c.name)
		assert.Equal(t, c.want, f.of(float32(l), float32(a), float32(b)), "%s, fast", c.name)
	}
	for _, k := range ct.Classes {
		assert.NotEmpty(t, k.Reason, k.Name)
	}
	// The card's own patches, by their drawing: the deep greens are green, brown and tan brown, and so on.
	want := map[string]uint8{"deep green": Green, "leaf green": Green, "mid green": Green, "light green": Green, "yellow": Yellow,
		"pale yellow": Yellow, "tan": Brown, "brown": Brown, "red": Brown, "red-purple": Purple, "dull purple": Purple, "blue-green": Green}
	n := 0
	for _, p := range card.Patches() {
		if w, ok := want[p.Name]; ok {
			lab := colour.FromSRGB8(p.SRGB[0], p.SRGB[1], p.SRGB[2]).Lab()
			assert.Equal(t, w, ct.Of(lab.L, lab.A, lab.B), "%s at %.0f degrees", p.Name, lab.HueDeg())
			n++
		}
	}
	assert.Equal(t, len(want), n)
}

func TestEncodeTable(t *testing.T) {
	enc := newEncodeTable()
	for v := range 256 {
		assert.InDelta(t, float64(v), enc.at(colour.LinearOf8[v]), 0.1)
		assert.Equal(t, uint8(v), enc.byte(float32(colour.LinearOf8[v])))
	}
}

// Dilation and erosion against their definition, on random masks.
func TestMorphologyAgainstDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const w, h = 37, 29
	for trial := range 20 {
		m := make([]uint8, w*h)
		for i := range m {
			if rng.IntN(10) < 2+trial%7 {
				m[i] = 1
			}
		}
		for _, r := range []int{1, 2, 3, 5} {
			d, e := dilate(m, w, h, r), erode(m, w, h, r)
			rr := (float64(r) + 0.3) * (float64(r) + 0.3)
			for y := range h {
				for x := range w {
					var any uint8
					all := m[y*w+x]
					for yy := max(0, y-r); yy <= min(h-1, y+r); yy++ {
						for xx := max(0, x-r); xx <= min(w-1, x+r); xx++ {
							if float64((xx-x)*(xx-x)+(yy-y)*(yy-y)) <= rr {
								any |= m[yy*w+xx]
								all &= m[yy*w+xx]
							}
						}
					}
					require.Equal(t, any, d[y*w+x], "dilate r %d at %d, %d", r, x, y)
					require.Equal(t, all, e[y*w+x], "erode r %d at %d, %d", r, x, y)
				}
			}
		}
	}
}

func TestComponents(t *testing.T) {
	pic := []string{
		"##..#",
		"#..#.",
		"..#..",
		"#...#",
	}
	w, h := 5, 4
	m := make([]uint8, w*h)
	for y, r := range pic {
		for x, c := range r {
			if c == '#' {
				m[y*w+x] = 1
			}
		}
	}
	l8, s8 := components(m, w, h, true)
	assert.Equal(t, []int{0, 3, 3, 1, 1}, s8)
	assert.Equal(t, l8[4], l8[2*w+2], "diagonal neighbours hang together")
	_, s4 := components(m, w, h, false)
	assert.Equal(t, []int{0, 3, 1, 1, 1, 1, 1}, s4)
	// A U joins two runs that began as two components.
	u := []uint8{1, 0, 1, 1, 0, 1, 1, 1, 1}
	l, s := components(u, 3, 3, false)
	assert.Equal(t, []int{0, 7}, s)
	assert.Equal(t, int32(1), l[2])
}

func TestDropSmall(t *testing.T) {
	const w, h = 20, 20
	m := make([]uint8, w*h)
	for y := 2; y < 18; y++ {
		for x := 2; x < 18; x++ {
			m[y*w+x] = 1
		}
	}
	m[5*w+5] = 0 // a hole stays
	m[0] = 1     // speck
	dropSmall(m, w, h, 2)
	assert.Equal(t, uint8(0), m[0])
	assert.Equal(t, uint8(1), m[3*w+3])
	assert.Equal(t, uint8(0), m[5*w+5])
}

func TestWeightedQuantiles(t *testing.T) {
	v, w := []float64{}, []float64{}
	for i := range 1001 {
		v, w = append(v, float64(i)), append(w, 1)
	}
	q := weightedQuantiles(v, w, 0.25, 0.5, 0.75)
	assert.InDelta(t, 250, q[0], 1)
	assert.InDelta(t, 500, q[1], 1)
	assert.InDelta(t, 750, q[2], 1)
	q = weightedQuantiles([]float64{1, 2, 10}, []float64{1, 1, 8}, 0.5)
	assert.InDelta(t, 10, q[0], 0.01, "weight rules")
	assert.True(t, math.IsNaN(weightedQuantiles(nil, nil, 0.5)[0]))
	assert.Equal(t, []float64{7.0}, weightedQuantiles([]float64{7, 7}, []float64{1, 2}, 0.5))
}

// Traced borders enclose exactly the pixels: area by the shoelace formula, holes the other way round.
func TestContoursEncloseTheirPixels(t *testing.T) {
	const w, h = 60, 50
	m := make([]uint8, w*h)
	n, hole := 0, 0
	for y := range h {
		for x := range w {
			dx, dy := float64(x-30), float64(y-25)
			if dx*dx/400+dy*dy/225 <= 1 {
				if dx*dx+dy*dy < 30 {
					hole++
					continue
				}
				m[y*w+x] = 1
				n++
			}
		}
	}
	var in [256]bool
	in[1] = true
	ls := contours(m, w, h, bounds(m, w, h), &in)
	require.Len(t, ls, 2)
	sum := 0.0
	for _, l := range ls {
		sum += contourArea(l)
	}
	assert.InDelta(t, float64(n), sum, 1e-9)
	assert.InDelta(t, float64(n+hole), contourArea(ls[0]), 1e-9)
	s := simplify(ls[0], outlineTolPx)
	assert.Less(t, len(s), len(ls[0])/2, "simplified")
	area := 0.0
	for i, p := range s {
		q := s[(i+1)%len(s)]
		area += (p[0]*q[1] - q[0]*p[1]) / 2
	}
	assert.InEpsilon(t, float64(n+hole), area, 0.01)
	// Two pixels that touch by a corner are one leaf each side of it.
	two := []uint8{1, 0, 0, 1}
	assert.Len(t, contours(two, 2, 2, bounds(two, 2, 2), &in), 2)
}
