package leaf

import (
	"bytes"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// closeUp is a part of the photo that the network is shown by itself, larger than in the whole photo: leaflets, the gaps between
// them and narrow margins are wider there than a place of the whole photo's picture.
type closeUp struct {
	x, y, w, h int // photo px
	seen       regions.Map
}

const (
	// closeP bounds the plant of which close-ups are made.
	closeP = 0.3
	// closeMargin is what is shown round the plant, as a share of its width and height.
	closeMargin = 0.06
	// leastZoom is how much larger a close-up must show the plant to be worth its time.
	leastZoom = 1.25
	// aimZoom is the enlargement that is aimed at, with at most 2 x 2 close-ups.
	aimZoom = 1.9
	// overlap is the share of a close-up that lies in its neighbour; rimShare its outer part, where it gives way to it.
	overlap, rimShare = 0.16, 0.06
)

// closeUps divides the plant's surroundings into parts of the photo's shape.
func closeUps(in *Input, m *regions.Map) (out []closeUp) {
	x0, y0, x1, y1 := m.W, m.H, -1, -1
	for y := range m.H {
		for x, p := range m.P[regions.Leaf][y*m.W : (y+1)*m.W] {
			if p > closeP {
				x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			}
		}
	}
	if x1 < 0 {
		return nil
	}
	// In shares of the photo.
	ax, bx := float64(x0)/float64(m.W), float64(x1+1)/float64(m.W)
	ay, by := float64(y0)/float64(m.H), float64(y1+1)/float64(m.H)
	dx, dy := closeMargin*(bx-ax)+0.01, closeMargin*(by-ay)+0.01
	ax, bx, ay, by = max(0, ax-dx), min(1, bx+dx), max(0, ay-dy), min(1, by+dy)
	nx, ny := 1, 1
	side := func(n int, a, b float64) float64 { return (b - a) / (float64(n) - overlap*float64(n-1)) }
	if side(1, ax, bx) > 1/aimZoom {
		nx = 2
	}
	if side(1, ay, by) > 1/aimZoom {
		ny = 2
	}
	// Beyond the photo's own pixels there is nothing to be seen.
	s := max(side(nx, ax, bx), side(ny, ay, by), regions.LongPx/float64(max(in.Img.W, in.Img.H)))
	if s*leastZoom > 1 {
		return nil
	}
	at := func(k, n int, a, b float64) float64 {
		if n == 1 {
			return max(0, min(1-s, (a+b-s)/2))
		}
		return max(0, min(1-s, a+float64(k)*(b-a-s)))
	}
	w, h := int(s*float64(in.Img.W)), int(s*float64(in.Img.H))
	for j := range ny {
		for i := range nx {
			out = append(out, closeUp{x: int(at(i, nx, ax, bx) * float64(in.Img.W)), y: int(at(j, ny, ay, by) * float64(in.Img.H)), w: w, h: h})
		}
	}
	return
}

// look shows the network the part.
func (c *closeUp) look(in *Input) (err error) {
	part := raster.NewBGR(c.w, c.h)
	for y := range c.h {
		copy(part.Pix[3*y*c.w:3*(y+1)*c.w], in.Img.Pix[3*((c.y+y)*in.Img.W+c.x):])
	}
	moved := func(poly []record.Point) (q []record.Point) {
		for _, p := range poly {
			q = append(q, record.Point{X: p.X - float64(c.x), Y: p.Y - float64(c.y)})
		}
		return
	}
	var tags [][]record.Point
	for _, t := range in.Tags {
		tags = append(tags, moved(t))
	}
	shown := regions.Photo{Img: part, Small: part, Correct: corrected(in), SpreadPx: in.EdgeSpreadPx, Card: moved(in.Card), Tags: tags}
	c.seen, err = in.Net.See(shown.View())
	return
}

// weight is how much a close-up counts at a photo pixel: 1 inside, falling to 0 at its rim, unless that is the photo's.
func (c *closeUp) weight(in *Input, x, y float64) float32 {
	edge := func(v, from, n float64, whole int) float64 {
		rim := rimShare * n
		w := 1.0
		if from > 0 {
			w = min(w, (v-from)/rim)
		}
		if from+n < float64(whole)-1 {
			w = min(w, (from+n-v)/rim)
		}
		return max(0, w)
	}
	return float32(min(edge(x, float64(c.x), float64(c.w), in.Img.W), edge(y, float64(c.y), float64(c.h), in.Img.H)))
}

// closer shows the network close-ups and merges what it sees there into the map of the whole photo and into p, the probability of leaf
// at each grid pixel. Whether something grows, and is leaf, is better seen from near; whose it is, in the whole.
func (r *found) closer(in *Input, g *grid, p []float32) error {
	parts := closeUps(in, &r.seen)
	if parts == nil {
		return nil
	}
	m := newMosaic(in, g, r)
	for _, c := range parts {
		if err := c.look(in); err != nil {
			return err
		}
		m.add(&c)
	}
	r.addDetail(g, p, m)
	return nil
}

// leastThin is how much of the leaves must lie near their outline for close-ups to be worth their time, where a photo is
// measured: broad leaves lose or gain less than a thousandth by them.
const leastThin = 0.15

// thin is the share of the leaves that lies within two places of their outline.
func (r *found) thin() float64 {
	m, one := r.leafMask(), []byte{1}
	all, in := bytes.Count(m, one), bytes.Count(erode(m, r.seen.W, r.seen.H, 2), one)
	return 1 - float64(in)/float64(max(1, all))
}
