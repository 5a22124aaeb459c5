package leaf

import "math"

const (
	// besideRows is the shortest stretch, rows, that must be known for no leaf next to the leaf, at probabilities below besideP.
	besideRows, besideP = 20, 0.1
	// besideReach is how far from the leaf it is looked for, rows.
	besideReach = 3 * besideRows
	// surerBeside is how much surer of leaf, in logits, the network is at its side than of the thing itself.
	surerBeside = 0.4
	// flankAt is how far from its edges that is asked, px.
	flankAt = 4
)

// judge marks what lies across the leaf of a thing that is known beside it.
func (s *sweep) judge(c *chain, thing []uint8) bool {
	any := false
	for from := 0; from < len(c.cuts); {
		if !s.over(&c.cuts[from]) {
			from++
			continue
		}
		to, miss := from, 0 // the last row over the leaf
		for i := from; i < len(c.cuts) && miss < besideRows; i++ {
			if s.over(&c.cuts[i]) {
				to, miss = i, 0
			} else {
				miss++
			}
		}
		if s.believed(c, from, to) {
			s.mark(c.cuts[from:to+1], thing)
			any = true
		}
		from = to + 1
	}
	return any
}

func (s *sweep) at(x, y int) int { return y*s.g.w + x }

// over says whether the thing lies before leaf there: it is taken for leaf, and so is what is at both sides.
func (s *sweep) over(q *cut) bool {
	a, b := max(s.x0, q.a-flankAt), min(s.x1-1, q.b+flankAt-1)
	return s.m[s.at((q.a+q.b)/2, q.y)] != 0 && s.m[s.at(a, q.y)] != 0 && s.m[s.at(b, q.y)] != 0
}

// believed says whether the rows from..to of a thing are known for no leaf by what is next to them, and by what the network says there.
func (s *sweep) believed(c *chain, from, to int) bool {
	if to-from+1 < acrossRows {
		return false
	}
	var surer float32
	for i := from; i <= to; i++ {
		q := &c.cuts[i]
		var on float32
		for x := q.a; x < q.b; x++ {
			on += boundLogit(s.p[s.at(x, q.y)]) / float32(q.b-q.a)
		}
		l, r := s.p[s.at(max(s.x0, q.a-flankAt), q.y)], s.p[s.at(min(s.x1-1, q.b+flankAt-1), q.y)]
		surer += boundLogit(max(l, r)) - on
	}
	known := max(s.beside(c, from-1, -1), s.beside(c, to+1, 1))
	return surer >= surerBeside*float32(to-from+1) && known >= besideRows
}

// beside is the number of rows, of those next to the leaf from row i on, in which the thing stands free: the network knows it, and what is
// at both sides of it, for no leaf. A pale margin of a leaf, which it may not know, has the leaf at one side.
func (s *sweep) beside(c *chain, i, way int) (n int) {
	for k := 0; k < besideReach && i >= 0 && i < len(c.cuts); k, i = k+1, i+way {
		q := &c.cuts[i]
		at := s.at((q.a+q.b)/2, q.y)
		l, r := s.at(max(s.x0, q.a-flankAt), q.y), s.at(min(s.x1-1, q.b+flankAt-1), q.y)
		if s.g.block[at] == 0 && max(s.p[at], s.p[l], s.p[r]) < besideP {
			n++
		}
	}
	return
}

// mark sets the thing's pixels, and those of rows that were not seen between.
func (s *sweep) mark(cuts []cut, thing []uint8) {
	for i := range cuts {
		q := &cuts[i]
		n := 1
		if i+1 < len(cuts) {
			n = cuts[i+1].y - q.y
		}
		for k := range n {
			a, b := q.a, q.b
			if k > 0 {
				t := float64(k) / float64(n)
				a, b = a+int(math.Round(t*float64(cuts[i+1].a-q.a))), b+int(math.Round(t*float64(cuts[i+1].b-q.b)))
			}
			for x := a; x < b; x++ {
				if at := s.at(x, q.y+k); s.g.block[at] == 0 {
					thing[at] = 1
				}
			}
		}
	}
}
