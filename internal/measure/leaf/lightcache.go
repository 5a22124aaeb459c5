package leaf

// What refine looks at on both sides of an outline.
const (
	sureLeaf uint8 = iota + 1
	sureGround
)

// lightCache holds the corrected linear light of grid pixels, each worked out when it is first asked for, and forgotten
// when the search for the outline has moved on: the rows that are in use stay near the processor.
type lightCache struct {
	in   *Input
	g    *grid
	rows [2*farReach + 1]lightRow
}

// lightRow is one row of the grid; nothing where y is not its number.
type lightRow struct {
	in   *Input
	y    int
	pix  []uint8
	lin  [][3]float32
	have []bool
}

func newLightCache(in *Input, g *grid) *lightCache {
	l := &lightCache{in: in, g: g}
	n := len(l.rows)
	lin, have := make([][3]float32, n*g.w), make([]bool, n*g.w)
	for i := range l.rows {
		l.rows[i] = lightRow{in: in, y: -1, lin: lin[i*g.w : (i+1)*g.w], have: have[i*g.w : (i+1)*g.w]}
	}
	return l
}

func (l *lightCache) row(y int) *lightRow {
	r := &l.rows[y%len(l.rows)]
	if r.y != y {
		r.y, r.pix = y, l.g.pix[3*y*l.g.w:3*(y+1)*l.g.w]
		clear(r.have)
	}
	return r
}

func (r *lightRow) at(x int) [3]float32 {
	if !r.have[x] {
		r.learn(x)
	}
	return r.lin[x]
}

func (r *lightRow) learn(x int) {
	p := r.pix[3*x : 3*x+3]
	red, green, blue := r.in.Colour.Linear(p[2], p[1], p[0])
	r.lin[x], r.have[x] = [3]float32{red, green, blue}, true
}
