package leaf

import (
	"phototrack/internal/raster"
	"phototrack/internal/regions"
)

// view makes of the calibrated photo what the network is shown.
func view(in *Input, g *grid) regions.View {
	p := regions.Photo{Img: in.Img, Small: raster.BGR{W: g.w, H: g.h, Pix: g.pix}, Correct: corrected(in), SpreadPx: in.EdgeSpreadPx, Card: in.Card, Tags: in.Tags}
	return p.View()
}

// corrected turns a row of camera values into corrected sRGB.
func corrected(in *Input) func(row []uint8) {
	enc := newEncodeTable().bytes()
	return func(row []uint8) { in.Colour.correctRow(row, enc) }
}

// likelihood is the probability of leaf at each grid pixel, from the map's finer or coarser places, 0 where there cannot be
// leaf.
func likelihood(g *grid, m *regions.Map) []float32 {
	p := make([]float32, g.w*g.h)
	from := m.P[regions.Leaf]
	xs, ys := between(g.w, m.W), between(g.h, m.H)
	for y, sy := range ys {
		a, b := from[sy.at*m.W:(sy.at+1)*m.W], from[sy.next*m.W:(sy.next+1)*m.W]
		row, block := p[y*g.w:(y+1)*g.w], g.block[y*g.w:(y+1)*g.w]
		for x, sx := range xs {
			if block[x] != 0 {
				continue
			}
			u := a[sx.at] + sx.part*(a[sx.next]-a[sx.at])
			v := b[sx.at] + sx.part*(b[sx.next]-b[sx.at])
			row[x] = u + sy.part*(v-u)
		}
	}
	return p
}

// step is where one of n pixels lies between two of m.
type step struct {
	at, next int
	part     float32
}

func between(n, m int) []step {
	out := make([]step, n)
	for i := range out {
		x := (float64(i)+0.5)*float64(m)/float64(n) - 0.5
		x = max(0, min(float64(m-1), x))
		at := min(m-1, int(x))
		out[i] = step{at, min(m-1, at+1), float32(x - float64(at))}
	}
	return out
}
