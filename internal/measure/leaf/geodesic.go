package leaf

// byGeodesic grows marked pixels through a mask until they meet; each pixel falls to the mark from which it is the shortest way, where a
// strong border between two colours is a long way (a geodesic distance; Dijkstra 1959 with whole numbers as costs). marks holds 0 where
// it is open whose a pixel is. Pixels of the mask that no mark reaches keep 0.
func byGeodesic(g *grid, mask []uint8, marks []uint8) []uint8 {
	d := newGeodesic(g, mask, marks)
	for at := int32(0); d.queue.n > 0; at++ {
		for i, ok := d.queue.take(at); ok; i, ok = d.queue.take(at) {
			if !d.done[i] && d.far[i] == at {
				d.done[i] = true
				d.expand(i)
			}
		}
	}
	return d.whose
}

// geodesic is the growing of marks through a mask under way.
type geodesic struct {
	g     *grid
	box   // all of the mask lies in it
	mask  []uint8
	cost  []uint8 // the way through each pixel
	far   []int32 // the shortest way to it that is known
	whose []uint8 // the mark that it begins at
	done  []bool  // there is no shorter one
	queue bucketQueue
}

func newGeodesic(g *grid, mask, marks []uint8) *geodesic {
	d := &geodesic{g: g, box: bounds(mask, g.w, g.h), mask: mask, whose: append([]uint8(nil), marks...), far: make([]int32, len(mask)), done: make([]bool, len(mask))}
	d.cost = borderCosts(g, mask, d.box)
	for i, v := range marks {
		switch {
		case v == 0:
			d.far[i] = 1 << 30
		case mask[i] != 0:
			d.queue.add(0, int32(i))
		}
	}
	return d
}

// expand looks whether the ways to a pixel's four neighbours are shorter through it.
func (d *geodesic) expand(i int32) {
	w := d.g.w
	x, y := int(i)%w, int(i)/w
	for _, step := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		nx, ny := x+step[0], y+step[1]
		if nx < d.x0 || ny < d.y0 || nx >= d.x1 || ny >= d.y1 {
			continue
		}
		j := ny*w + nx
		if t := d.far[i] + int32(d.cost[j]); d.mask[j] != 0 && !d.done[j] && t < d.far[j] {
			d.far[j], d.whose[j] = t, d.whose[i]
			d.queue.add(t, int32(j))
		}
	}
}

// bucketQueue holds pixels by how far they are, in a ring of buckets (Dial 1969): no way through one pixel is longer than mostCost.
type bucketQueue struct {
	ring [mostCost + 1][]int32
	n    int
}

func (w *bucketQueue) add(at int32, i int32) {
	q := &w.ring[at%int32(len(w.ring))]
	*q = append(*q, i)
	w.n++
}

// take gives one of those that are so far.
func (w *bucketQueue) take(at int32) (i int32, ok bool) {
	q := &w.ring[at%int32(len(w.ring))]
	if len(*q) == 0 {
		return 0, false
	}
	i = (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	w.n--
	return i, true
}

const (
	// textureStep is how much the colour of a leaf changes over four pixels by its texture alone, camera levels; borderCost how many pixels
	// of way a level beyond that counts for.
	textureStep, borderCost = 5, 3
	// slopePx is how far the picture is looked at to either side: two pixels, and one of the smoothing.
	slopePx = 2 + 1
	// mostCost is the longest way through a pixel: a byte holds no more than 255.
	mostCost = 250
)

// borderCosts is the way through each pixel of the mask: 1, and more where the smoothed picture changes much.
func borderCosts(g *grid, mask []uint8, b box) []uint8 {
	cost := make([]uint8, len(mask))
	w := g.w
	at := func(i, c int) int32 { // mean of 3 x 3
		s := int32(0)
		for _, o := range [9]int{-w - 1, -w, -w + 1, -1, 0, 1, w - 1, w, w + 1} {
			s += int32(g.pix[3*(i+o)+c])
		}
		return s
	}
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			i := y*w + x
			cost[i] = 1
			if mask[i] == 0 || x < slopePx || y < slopePx || x >= g.w-slopePx || y >= g.h-slopePx {
				continue
			}
			d := int32(0)
			for c := range 3 {
				dx, dy := at(i+2, c)-at(i-2, c), at(i+2*w, c)-at(i-2*w, c)
				d = max(d, dx, -dx, dy, -dy)
			}
			cost[i] = uint8(min(mostCost, 1+borderCost*max(0, d/9-textureStep)))
		}
	}
	return cost
}
