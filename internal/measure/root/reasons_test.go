package root

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
)

func codesOf(why []record.Reason) (out []string) {
	for _, r := range why {
		out = append(out, string(r.Code))
	}
	return out
}

// What cannot be measured ends in a reason of its own.
func TestBadWallsEndInAReason(t *testing.T) {
	const seed = 700017
	judged := func(change func(d drawn, r *regions)) []string {
		d := newDrawn(seed)
		r := d.regions()
		change(d, r)
		for i := range d.sh.Seen.Pix { // the crop of a drawn wall is no fault of the photo
			d.sh.Seen.Pix[i] = 1
		}
		_, why := d.measure(t, r)
		return codesOf(why)
	}
	assert.Contains(t, judged(func(d drawn, r *regions) {
		for i := range r.hidden.Pix {
			r.hidden.Pix[i], r.any.Pix[i] = 1, 0
		}
	}), "wall_blind")
	assert.Contains(t, judged(func(d drawn, r *regions) {
		for i := range d.sh.L.Pix {
			d.sh.L.Pix[i] = 46 + 0.01*float32(i%d.sh.W)
			r.any.Pix[i], r.hidden.Pix[i] = 0, 0
		}
	}), "pot_opaque")
	assert.Contains(t, judged(func(d drawn, r *regions) {
		for i := range d.sh.L.Pix {
			x, y := i%d.sh.W, i/d.sh.W
			chip := float32((x/10 + y/10) % 2 * 14)
			r.any.Pix[i], r.hidden.Pix[i] = 0, 0
			d.sh.L.Pix[i] = 36 + chip
			if mid := d.sh.H / 2; y >= mid {
				d.sh.L.Pix[i] = 16 + chip
				if y < mid+3 {
					r.onWall.Pix[i] = 1
				}
			}
		}
	}), "water")
	assert.Contains(t, judged(func(d drawn, r *regions) {
		for i, v := range r.any.Pix {
			if v > 0.5 {
				r.any.Pix[i] = 0.62
			}
		}
	}), "too_unsure")
	assert.Contains(t, judged(func(d drawn, r *regions) { // a sheet with holes in it, sure to be root: centrelines run round the holes
		const pitchMM, radiusMM = 7, 4
		for i := range r.any.Pix {
			x, y := (float64(i%d.sh.W)-d.sh.Mid)*d.sh.Step, float64(i/d.sh.W)*d.sh.Step
			r.any.Pix[i], r.hidden.Pix[i], r.onWall.Pix[i] = 0, 0, 0
			if math.Hypot(x-pitchMM*math.Round(x/pitchMM), y-pitchMM*math.Round(y/pitchMM)) < radiusMM {
				r.any.Pix[i] = 1
			}
		}
	}), "root_check")
	plain := judged(func(drawn, *regions) {})
	for _, code := range []string{"wall_blind", "pot_opaque", "water", "unsure", "too_unsure", "root_check"} {
		assert.NotContains(t, plain, code)
	}
}
