package leaf

// What refine looks at on both sides of an outline.
const (
	sureLeaf uint8 = iota + 1
	sureGround
)

// lightRing holds the corrected linear light of the grid's rows that are in use (red, green, blue, and the sum of their squares), each
// worked out when it is first asked for and forgotten when the search for the outline has moved on, so that they stay near the processor.
type lightRing struct {
	in  *Input
	g   *grid
	x   [2]int // the columns that are worked out, from and to
	y   [2*farReach + 1]int
	lin [][4]float32
}

// newLightRing is one for the columns of a box.
func newLightRing(in *Input, g *grid, b box) *lightRing {
	l := &lightRing{in: in, g: g, x: [2]int{b.x0, b.x1}}
	l.lin = make([][4]float32, len(l.y)*g.w)
	for i := range l.y {
		l.y[i] = -1
	}
	return l
}

// row is the light of a row.
func (l *lightRing) row(y int) [][4]float32 {
	k, w := y%len(l.y), l.g.w
	row := l.lin[k*w : (k+1)*w]
	if l.y[k] != y {
		l.y[k] = y
		l.in.Colour.squareRow(l.g.pix[3*(y*w+l.x[0]):3*(y*w+l.x[1])], row[l.x[0]:l.x[1]])
	}
	return row
}
