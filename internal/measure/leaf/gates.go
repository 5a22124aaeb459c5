package leaf

import (
	"fmt"

	"phototrack/internal/record"
)

// Limits of the gates that the leaves themselves decide; their rows are in package gate.
const (
	maxFrameShare  = 0.03 // of the outline that may run along the frame's edge
	unsureShare    = 0.05 // of the leaf area that may have been judged wrongly, as a 95 % half-width
	tooUnsureShare = 0.25
)

func reasons(fd *found, t *tally) (out []record.Reason) {
	add := func(code record.GateCode, format string, args ...any) {
		out = append(out, record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)})
	}
	if s := fd.f.atFrame(); s > maxFrameShare {
		add("cut_off", "%.0f %% of the outline", 100*s)
	}
	if s := 2 * t.doubt / t.area; s > tooUnsureShare {
		add("too_unsure", "%s", fd.sayPlaces(t, s))
	} else if s > unsureShare {
		add("unsure", "%s", fd.sayPlaces(t, s))
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
	s := "s"
	if n == 1 {
		s = ""
	}
	return fmt.Sprintf("up to %.0f cm² of %.0f, mostly in %d place%s", share*t.area/100, t.area/100, n, s)
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
