package leaf

import "math"

// A dead tip is as wide as the leaf that it ends, so living tissue borders it over its whole width; a pot or a lump of
// bark is wider than the leaf that happens to lie before it. That holds where the border between green and brown is too
// wavy for the outlines at its ends to tell anything.

// contact is where a brown part borders living tissue: the moments of those pixels, and how far the whole part reaches
// along and across their line.
type contact struct {
	n, x, y, xx, xy, yy float64
	along, across       spanOf // of the part
	chord               spanOf // of the contact itself, along its line
}

type spanOf struct {
	lo, hi float64
	set    bool
}

func (s *spanOf) take(v float64) {
	if !s.set {
		s.lo, s.hi, s.set = v, v, true
	}
	s.lo, s.hi = min(s.lo, v), max(s.hi, v)
}

func (s *spanOf) width() float64 { return s.hi - s.lo + 1 }

func (c *contact) add(x, y float64) {
	c.n++
	c.x, c.y = c.x+x, c.y+y
	c.xx, c.xy, c.yy = c.xx+x*x, c.xy+x*y, c.yy+y*y
}

// line is the direction of the contact's main axis.
func (c *contact) line() (ux, uy float64) {
	sxx, sxy, syy := c.xx/c.n-sqr(c.x/c.n), c.xy/c.n-c.x/c.n*c.y/c.n, c.yy/c.n-sqr(c.y/c.n)
	uy, ux = math.Sincos(math.Atan2(2*sxy, sxx-syy) / 2)
	return
}

// contacts measures the contacts of all parts, within the box.
func contacts(kind []uint8, label []int32, n, w, h int, b box) []contact {
	cs := make([]contact, n)
	touches := func(i int) bool { return kind[i-1] == 1 || kind[i+1] == 1 || kind[i-w] == 1 || kind[i+w] == 1 }
	each := func(f func(c *contact, i int, x, y float64)) {
		for y := max(1, b.y0); y < min(h-1, b.y1); y++ {
			for x := max(1, b.x0); x < min(w-1, b.x1); x++ {
				if l := label[y*w+x]; l != 0 {
					f(&cs[l], y*w+x, float64(x), float64(y))
				}
			}
		}
	}
	each(func(c *contact, i int, x, y float64) {
		if touches(i) {
			c.add(x, y)
		}
	})
	axes := make([][2]float64, n)
	for l := range cs {
		if cs[l].n > 0 {
			axes[l][0], axes[l][1] = cs[l].line()
		}
	}
	each(func(c *contact, i int, x, y float64) {
		u := axes[label[i]]
		s := u[0]*x + u[1]*y
		c.along.take(s)
		c.across.take(u[0]*y - u[1]*x)
		if c.n > 0 && touches(i) {
			c.chord.take(s)
		}
	})
	return cs
}

// What a dead tip looks like by its contact: reaching out by a third of its width or more, hardly wider than the leaf.
const (
	tipReach  = 0.3
	tipWidest = 1.3
)

// tip says whether the part looks like the end of a leaf.
func (c *contact) tip() bool {
	return c.n > 0 && c.across.width() >= tipReach*c.chord.width() && c.along.width() <= tipWidest*c.chord.width()
}

// junction is a place where living tissue, a brown part and the surroundings meet, and what junctionTurn says there.
type junction struct {
	part int32
	x, y int
	turn float64
}

// meanTurns gathers the pixels of a part's junctions that lie within reach of one another, and gives the mean of each
// group: the few pixels at a junction see borders of their own, and one of them alone may see a wave in them.
func meanTurns(js []junction, reach int) (out []junction) {
	group := make([]int, len(js))
	for i := range group {
		group[i] = -1
	}
	for i := range js {
		if group[i] >= 0 {
			continue
		}
		var sum, n float64
		near := []int{i}
		group[i] = i
		for len(near) > 0 {
			k := near[len(near)-1]
			near = near[:len(near)-1]
			sum += js[k].turn
			n++
			for q := range js {
				if group[q] < 0 && js[q].part == js[k].part && max(js[q].x-js[k].x, js[k].x-js[q].x, js[q].y-js[k].y, js[k].y-js[q].y) <= reach {
					group[q] = i
					near = append(near, q)
				}
			}
		}
		out = append(out, junction{js[i].part, js[i].x, js[i].y, sum / n})
	}
	return out
}
