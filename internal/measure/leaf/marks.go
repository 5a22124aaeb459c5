package leaf

import "phototrack/internal/record"

// What the grower drew outranks what the program saw: inside a keep polygon everything is leaf but the card and the
// tag, inside a leave-out polygon nothing is. Where both overlap, leaving out wins.

// keepMarked sets the grid mask inside the keep polygons.
func keepMarked(in *Input, g *grid, m []uint8) {
	for _, k := range in.Marks {
		if !k.Keep {
			continue
		}
		in := make([]uint8, len(m))
		g.drawnOn(in).fill(k.Points, 1)
		for i, v := range in {
			if v != 0 && g.block[i] == 0 {
				m[i] = 1
			}
		}
	}
}

// applyMarks cuts the fine mask along the polygons.
func (f *fine) applyMarks(in *Input) {
	mask := canvas{pix: f.mask, w: f.w, h: f.h, k: float64(f.k)}
	for _, keep := range []bool{true, false} {
		for _, k := range in.Marks {
			if k.Keep == keep {
				v := uint8(0)
				if keep {
					v = 1
				}
				mask.fill(k.Points, v)
			}
		}
	}
	for _, q := range append([][]record.Point{in.Card}, in.Tags...) {
		mask.fill(q, 0)
	}
}
