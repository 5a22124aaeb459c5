package root

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// correlate is the correlation of b at (x, y) with a at (x - dx, y - dy), and the share of b's columns that overlap.
func correlate(a, b *pattern, dx, dy int) (score, share float64) {
	x0, x1 := max(0, dx), min(b.w, a.w+dx)
	if x1-x0 < 10 {
		return -1, 0
	}
	var n, sa, sb, saa, sbb, sab float64
	for y := max(0, dy); y < min(b.h, a.h+dy); y++ {
		ra, rb := a.v[(y-dy)*a.w+x0-dx:(y-dy)*a.w+x1-dx], b.v[y*b.w+x0:y*b.w+x1]
		for k := range rb {
			p, q := float64(ra[k]), float64(rb[k])
			if p != p || q != q {
				continue
			}
			n++
			sa += p
			sb += q
			saa += p * p
			sbb += q * q
			sab += p * q
		}
	}
	if n < 400 {
		return -1, 0
	}
	d := (saa - sa*sa/n) * (sbb - sb*sb/n)
	if d <= 0 {
		return -1, 0
	}
	return (sab - sa*sb/n) / math.Sqrt(d), float64(x1-x0) / float64(b.w)
}

// grained is a pattern of soft grains with holes in it.
func grained(rng *rand.Rand, w, h int) *pattern {
	p := &pattern{w: w, h: h, dAz: 0.0145, v: make([]float32, w*h)}
	for i := range p.v {
		p.v[i] = float32(12 * rng.NormFloat64())
	}
	for range 6 {
		x0, y0 := rng.IntN(w), rng.IntN(h)
		for y := y0; y < min(h, y0+h/8); y++ {
			for x := x0; x < min(w, x0+w/6); x++ {
				p.v[y*w+x] = float32(math.NaN())
			}
		}
	}
	for x := range w * min(h, 12) { // the rim is left out
		p.v[x] = float32(math.NaN())
	}
	return p
}

// TestCorrelatorIsTheDefinition compares all rotations and shifts with sums written out.
func TestCorrelatorIsTheDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, size := range [][4]int{{147, 140, 147, 140}, {131, 90, 149, 101}, {60, 30, 50, 35}, {149, 60, 90, 13}} {
		a, b := grained(rng, size[0], size[1]), grained(rng, size[2], size[3])
		for y := range min(a.h, b.h) - 3 { // b is a, turned and lower by a little
			for x := range min(a.w, b.w) - 21 {
				if v := a.v[y*a.w+x]; v == v {
					b.v[(y+3)*b.w+x+21] += v
				}
			}
		}
		reach := a.w - int(leastOverlap/a.dAz)
		if reach < 0 {
			best, _, _ := match(a, b)
			assert.Equal(t, -1.0, best.score)
			continue
		}
		c := newCorrelator(a, b, reach)
		got := make([]float64, 2*reach+1)
		for dy := -6; dy <= 6; dy++ {
			c.scores(dy, got)
			for dx := -reach; dx <= reach; dx++ {
				want, share := correlate(a, b, dx, dy)
				assert.InDelta(t, want, got[dx+reach], 1e-9, "%v: %d, %d", size, dx, dy)
				if want > -1 {
					assert.InDelta(t, share, c.share(dx), 1e-12)
				}
			}
		}
		if b.h > 40 {
			best, _, _ := match(a, b)
			assert.InDelta(t, 21*a.dAz, best.turn, 1e-12)
			assert.InDelta(t, 3*gridMM, best.shift, 1e-12)
		}
	}
}

func BenchmarkMatch(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	p, q := grained(rng, 147, 140), grained(rng, 147, 140)
	for b.Loop() {
		match(p, q)
	}
}

func BenchmarkMatchByDefinition(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	p, q := grained(rng, 147, 140), grained(rng, 147, 140)
	reach := p.w - int(leastOverlap/p.dAz)
	for b.Loop() {
		for dx := -reach; dx <= reach; dx++ {
			for dy := -6; dy <= 6; dy++ {
				correlate(p, q, dx, dy)
			}
		}
	}
}
