package root

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Bundles of straight, pale, evenly painted roots that touch are nothing that the network was shown, and at full size it sees none of them. Such a
// wall must not read nothing for sure: at half the size three side by side are seen; four it takes for part of the wall, which is told.
func TestBundlesAreNotTakenForNothing(t *testing.T) {
	const wide = 3.8 // mm
	d := newDrawn(850001)
	tall := float64(d.sh.H) * d.sh.Step
	from, to := 0.12*tall, 0.85*tall
	ground, pale, tip := colour.RGB{0.075, 0.03, 0.016}, colour.RGB{0.42, 0.41, 0.33}, colour.RGB{0.24, 0.38, 0.06}
	for _, many := range []int{3, 4} {
		across := float64(many) * wide
		mids := []float64{-22, 0, 22}
		d.repaint(func(x, y float64, _ colour.RGB) colour.RGB {
			for _, mid := range mids {
				off := x - mid + across/2
				if off < 0 || off >= across || y < from || y > to {
					continue
				}
				u := math.Abs(2*math.Mod(off, wide)/wide - 1)
				end := max(0, from+wide/2-y, y-(to-wide/2)) / (wide / 2) // round ends
				if end*end+u*u > 1 {
					continue
				}
				c := pale
				if to-y < 9 {
					c = tip
				}
				k := (0.6 + 0.5*math.Sqrt(1-u*u)) * (1 + 0.05*math.Sin(1.7*y+off)*math.Sin(0.9*off-y))
				return colour.RGB{k * c[0], k * c[1], k * c[2]}
			}
			k := 1 + 0.3*math.Sin(0.9*x+2*math.Sin(0.4*y))*math.Cos(0.7*y+0.3*x)
			return colour.RGB{k * ground[0], k * ground[1], k * ground[2]}
		})
		r, why := d.measure(t, nil)
		is := float64(len(mids)*many) * (to - from)
		l, codes := value(r.Quantities, record.RootLength), codesOf(why)
		t.Logf("%d of %d: %.0f of %.0f mm +- %.0f %v", len(mids), many, l.Value, is, l.U95, codes)
		assert.NotEmpty(t, codes)
		if many == 3 {
			assert.True(t, math.Abs(l.Value-is) <= l.U95 || slices.Contains(codes, "too_unsure"))
			assert.NotEmpty(t, r.Doubtful, "there is nothing to decide on the desk")
		}
	}
}

// A view at half the size shows the same wall: places, colours, and what is not seen.
func TestHalvedIsTheSameWall(t *testing.T) {
	s := newDrawn(850002).sh
	h := s.halved()
	require.Equal(t, [2]int{(s.W + 1) / 2, (s.H + 1) / 2}, [2]int{h.W, h.H})
	for _, p := range [][2]int{{60, 70}, {71, 77}, {65, 100}} {
		i := 2*p[1]*s.W + 2*p[0]
		require.EqualValues(t, 4, s.Seen.Pix[i]+s.Seen.Pix[i+1]+s.Seen.Pix[i+s.W]+s.Seen.Pix[i+s.W+1], "%d x %d", s.W, s.H)
		mean := func(f raster.Float) float32 {
			return (f.Pix[i] + f.Pix[i+1] + f.Pix[i+s.W] + f.Pix[i+s.W+1]) / 4
		}
		j := p[1]*h.W + p[0]
		assert.InDelta(t, mean(s.L), h.L.Pix[j], 1e-3)
		assert.InDelta(t, mean(s.B), h.B.Pix[j], 1e-3)
		az, _ := s.place(2*float64(p[0])+0.5, 2*float64(p[1])+0.5)
		half, _ := h.place(float64(p[0]), float64(p[1]))
		assert.InDelta(t, az, half, 1e-4) // a row of the half view lies between two rows of a wall that tapers
	}
}
