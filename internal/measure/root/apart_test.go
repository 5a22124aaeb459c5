package root

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
)

// Roots that touch over their whole length are one body of the mask, and two where their middle lines are told. A middle line with
// a gap is still one root, and a bend is none either.
func TestRootsThatTouchAreTakenApart(t *testing.T) {
	const w, h, r = 240, 120, 5.0 // px: roots of 2.5 mm
	near := func(x, y float64, line func(t float64) (x, y float64)) (d float64) {
		d = math.Inf(1)
		for k := range 101 {
			a, b := line(float64(k) / 100)
			d = math.Min(d, math.Hypot(x-a, y-b))
		}
		return d
	}
	straight := func(y float64) func(t float64) (float64, float64) {
		return func(t float64) (float64, float64) { return 20 + 200*t, y + 6*math.Sin(3*t) }
	}
	bend := func(t float64) (float64, float64) { return 120 + 30*math.Cos(math.Pi*t), 20 + 60*math.Sin(math.Pi*t) }
	for name, c := range map[string]struct {
		roots []func(t float64) (float64, float64)
		gap   bool
		told  int
		len   float64
	}{
		"one":          {roots: []func(float64) (float64, float64){straight(50)}, told: 1, len: 211},
		"two":          {roots: []func(float64) (float64, float64){straight(50), straight(60)}, told: 2, len: 422},
		"three":        {roots: []func(float64) (float64, float64){straight(40), straight(50), straight(60)}, told: 3, len: 633},
		"one with gap": {roots: []func(float64) (float64, float64){straight(50)}, gap: true, told: 1, len: 211},
		"a bend":       {roots: []func(float64) (float64, float64){bend}, told: 1, len: 155},
	} {
		t.Run(name, func(t *testing.T) {
			m, line := raster.NewMask(w, h), raster.NewFloat(w, h)
			for y := range h {
				for x := range w {
					for _, l := range c.roots {
						d := near(float64(x), float64(y), l)
						if d <= r {
							m.Pix[y*w+x] = 1
						}
						if d <= 1.6 && !(c.gap && x > 90 && x < 98) {
							line.Pix[y*w+x] = 1
						}
					}
				}
			}
			f := &found{reg: &regions{line: line}, sh: &sheet{view: &view{Step: workStep}}}
			o := skeleton.DefaultOptions()
			o.Cap, o.SigmaPx = 0, 0.8/workStep
			var mm float64
			long := 0
			for _, q := range skeleton.Trace(f.takenApart(m), o) {
				if q.LengthPx() > 20 {
					long++
					mm += q.LengthPx()
				}
			}
			assert.Equal(t, c.told, long)
			assert.InDelta(t, c.len, mm, 0.03*c.len)
			f.reg.line = raster.Float{}
			assert.Equal(t, m, f.takenApart(m), "without lines nothing is taken apart")
		})
	}
}
