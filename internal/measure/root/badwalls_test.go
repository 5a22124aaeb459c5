package root

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/colour"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// repaint changes the picture of a drawn wall pixel by pixel, in linear light, at mm across and below the rim.
func (d drawn) repaint(change func(x, y float64, c colour.RGB) colour.RGB) {
	sh := d.sh
	for i := range sh.Seen.Pix {
		if sh.Seen.Pix[i] == 0 {
			continue
		}
		p := sh.Pic.Pix[3*i : 3*i+3]
		l := colour.FromSRGB8(p[2], p[1], p[0])
		q := change((float64(i%sh.W)-sh.Mid)*sh.Step, float64(i/sh.W)*sh.Step, l)
		for c := range 3 {
			p[2-c] = colour.Encode8(math.Min(1, q[c]))
		}
		lab := q.Lab()
		sh.L.Pix[i], sh.A.Pix[i], sh.B.Pix[i] = float32(lab.L), float32(lab.A), float32(lab.B)
	}
}

func mixed(a, b colour.RGB, t float64) colour.RGB {
	return colour.RGB{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1]), a[2] + t*(b[2]-a[2])}
}

// A wall that cannot be measured ends in a reason whatever the network makes of it: all under a label, a wall of one colour, all
// under mist, water in the pot.
func TestHopelessWallsEndInAReason(t *testing.T) {
	paper := colour.RGB{0.75, 0.74, 0.7}
	for name, c := range map[string]struct {
		paint func(tall float64) func(x, y float64, c colour.RGB) colour.RGB
		want  []string
	}{
		"label all round": {func(float64) func(x, y float64, c colour.RGB) colour.RGB {
			return func(x, y float64, _ colour.RGB) colour.RGB {
				if math.Mod(y, 9) > 6.5 && math.Mod(math.Abs(x)+40, 13) < 9 && math.Sin(7*x)*math.Sin(5*y+2*x) > 0.3 { // writing
					return colour.RGB{0.03, 0.03, 0.05}
				}
				return paper
			}
		}, []string{"wall_blind", "pot_opaque", "wall_hidden"}},
		"one colour": {func(float64) func(x, y float64, c colour.RGB) colour.RGB {
			return func(x, _ float64, _ colour.RGB) colour.RGB {
				k := 0.6 + 0.4*math.Cos(x/50)
				return colour.RGB{0.3 * k, 0.12 * k, 0.06 * k}
			}
		}, []string{"pot_opaque", "wall_blind"}},
		"mist": {func(float64) func(x, y float64, c colour.RGB) colour.RGB {
			return func(_, _ float64, c colour.RGB) colour.RGB { return mixed(c, colour.RGB{0.5, 0.5, 0.5}, 0.97) }
		}, []string{"wall_blind", "pot_opaque", "wall_hidden"}},
		"water": {func(tall float64) func(x, y float64, c colour.RGB) colour.RGB {
			at := 0.55 * tall
			return func(_, y float64, c colour.RGB) colour.RGB {
				if y > at {
					c = colour.RGB{0.62 * c[0], 0.66 * c[1], 0.62 * c[2]}
				}
				if q := math.Abs(y - at); q < 0.6 {
					c = mixed(c, colour.RGB{0.75, 0.8, 0.8}, 0.75*(1-q/0.6))
				}
				return c
			}
		}, []string{"water"}},
	} {
		t.Run(name, func(t *testing.T) {
			walls := 2
			if name == "water" { // darker under its line, where the medium there is not brighter by itself
				reftest.Slow(t)
				walls = 6
			}
			right, all := 0, 0
			for seed := uint64(850000); all < walls; seed++ {
				d := newDrawn(seed)
				if _, ok := d.whole(); !ok {
					continue
				}
				all++
				d.repaint(c.paint(float64(d.sh.H) * d.sh.Step))
				r, why := d.measure(t, nil)
				codes := codesOf(why)
				hit := false
				for _, w := range c.want {
					for _, code := range codes {
						hit = hit || w == code
					}
				}
				if hit {
					right++
				}
				t.Logf("%d: %.0f mm %v", seed, value(r.Quantities, record.RootLength).Value, codes)
			}
			assert.GreaterOrEqual(t, float64(right), 0.5*float64(all))
		})
	}
}
