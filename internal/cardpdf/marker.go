package cardpdf

import "phototrack/internal/card"

// marker draws marker id with its top-left corner at (x, y). Its black region is filled as one path
// along its outline: cells drawn as squares of their own would leave hairlines where they meet.
func (c canvas) marker(id int, x, y, side float64) {
	cell := side / card.MarkerCells
	c.fillBlack()
	for _, loop := range markerOutline(id) {
		for i, v := range loop {
			px, py := c.x+x+float64(v.col)*cell, c.y+y+float64(v.row)*cell
			if i == 0 {
				c.pdf.MoveTo(px, py)
			} else {
				c.pdf.LineTo(px, py)
			}
		}
		c.pdf.ClosePath()
	}
	c.pdf.DrawPath("F*")
}

// vertex is a corner of the marker's cell grid, 0..8 each way.
type vertex struct{ row, col int }

// markerOutline gives the closed loops that part black from white, to be filled by the even-odd rule.
// The outline's unit edges are directed with black on their right; every vertex has as many going out
// as coming in, so that walking on until the start is reached uses up all of them.
func markerOutline(id int) [][]vertex {
	out := markerEdges(id)
	var loops [][]vertex
	for r := 0; r <= card.MarkerCells; r++ { // in grid order, so that the same marker gives the same bytes
		for k := 0; k <= card.MarkerCells; k++ {
			for start := (vertex{r, k}); len(out[start]) > 0; {
				loops = append(loops, walk(out, start))
			}
		}
	}
	return loops
}

// markerEdges are the unit edges that go out from each vertex.
func markerEdges(id int) map[vertex][]vertex {
	out := map[vertex][]vertex{}
	add := func(from, to vertex) { out[from] = append(out[from], to) }
	black := func(row, col int) bool {
		return row >= 0 && col >= 0 && row < card.MarkerCells && col < card.MarkerCells && !card.CellWhite(id, row, col)
	}
	for r := 0; r < card.MarkerCells; r++ {
		for k := 0; k < card.MarkerCells; k++ {
			if !black(r, k) {
				continue
			}
			if !black(r-1, k) {
				add(vertex{r, k}, vertex{r, k + 1})
			}
			if !black(r, k+1) {
				add(vertex{r, k + 1}, vertex{r + 1, k + 1})
			}
			if !black(r+1, k) {
				add(vertex{r + 1, k + 1}, vertex{r + 1, k})
			}
			if !black(r, k-1) {
				add(vertex{r + 1, k}, vertex{r, k})
			}
		}
	}
	return out
}

// walk follows edges from start back to start, using them up, and keeps the vertices where it turns.
func walk(out map[vertex][]vertex, start vertex) []vertex {
	loop := []vertex{start}
	for at := start; ; {
		next := out[at][0]
		out[at] = out[at][1:]
		if next == start {
			return loop
		}
		if n := len(loop); n > 1 && straight(loop[n-2], loop[n-1], next) {
			loop[n-1] = next
		} else {
			loop = append(loop, next)
		}
		at = next
	}
}

func straight(a, b, c vertex) bool {
	return (b.row-a.row)*(c.col-b.col) == (b.col-a.col)*(c.row-b.row)
}
