package leaf

import (
	"fmt"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

func reasons(fd *found, t *tally) (out []record.Reason) {
	add := func(code record.GateCode, format string, args ...any) {
		out = append(out, record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)})
	}
	if s := fd.f.atFrame(); s > gate.MaxFrameShare {
		add(gate.CutOff, "%.0f %% of the outline", 100*s)
	}
	if s := 2 * t.doubt / t.area; s > gate.MaxDoubtShare {
		add(gate.TooUnsure, "%s", fd.sayPlaces(t, s))
	} else if s > gate.WarnDoubtShare {
		add(gate.Unsure, "%s", fd.sayPlaces(t, s))
	}
	return
}

// sayPlaces says how much is in doubt, and in how many places.
func (r *found) sayPlaces(t *tally, share float64) string {
	n := 0
	for _, p := range r.doubt.Pieces {
		if p.Px > r.doubt.Area/10 {
			n++
		}
	}
	where := fmt.Sprintf("mostly in %d places", n)
	switch n {
	case 0:
		where = "in many small places"
	case 1:
		where = "mostly in 1 place"
	}
	return fmt.Sprintf("up to %.0f cm² of %.0f, %s", share*t.area/100, t.area/100, where)
}

// atFrame is the share of the outline that lies on the edge of the picture.
func (f *fine) atFrame() float64 {
	edge, all := 0, 0
	for y := range f.h {
		row := f.mask[y*f.w : (y+1)*f.w]
		for x, v := range row {
			if v == 0 {
				continue
			}
			if x == 0 || x == f.w-1 || y == 0 || y == f.h-1 {
				edge++
				all++
			} else if row[x-1] == 0 || row[x+1] == 0 || f.mask[(y-1)*f.w+x] == 0 || f.mask[(y+1)*f.w+x] == 0 {
				all++
			}
		}
	}
	return float64(edge) / float64(max(1, all))
}
