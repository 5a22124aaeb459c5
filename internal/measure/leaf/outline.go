package leaf

import (
	"encoding/binary"
	"math"

	"phototrack/internal/record"
)

// Kinds of outlines.
const (
	KindLeaf        = "leaf"
	KindHole        = "hole"
	kindDiscoloured = "discoloured_" // followed by the class
)

const (
	outlineTolPx     = 0.7 // fine px that a simplified outline may leave the traced one
	minOutlineMM2    = 8.0 // smaller spots are counted but not drawn round
	minDiscolourSide = 4   // px of trace
)

// outlines traces the leaves, their holes and the discoloured parts, in photo px. A pixel is pxMM wide; areas are those
// of the classes in mm2.
func (f *fine) outlines(pxMM float64, areas *[5]float64) (out []record.Outline) {
	least := minOutlineMM2 / (pxMM * pxMM)
	add := func(kind string, loop [][2]int32) {
		pts := simplify(loop, outlineTolPx)
		if len(pts) < 3 {
			return
		}
		o := record.Outline{Kind: kind, Closed: true}
		k, off := float64(f.k), float64(f.k-1)/2
		for _, p := range pts {
			// Trace corners lie between pixels: corner (x, y) is half a pixel before pixel (x, y).
			o.Points = append(o.Points, record.Point{X: round2(k*(p[0]-0.5) + off), Y: round2(k*(p[1]-0.5) + off)})
		}
		out = append(out, o)
	}
	b := bounds(f.class, f.w, f.h)
	var leaf [256]bool
	for v := range leaf {
		leaf[v] = v != 0
	}
	for _, l := range contours(f.class, f.w, f.h, b, &leaf) {
		if a := contourArea(l); a > 0 {
			add(KindLeaf, l)
		} else if -a >= least/2 {
			add(KindHole, l)
		}
	}
	for c := Yellow; c <= Brown; c++ {
		if areas[c] < minOutlineMM2 {
			continue
		}
		var in [256]bool
		in[c+1] = true
		for _, l := range contours(f.class, f.w, f.h, b, &in) {
			if a := contourArea(l); len(l) >= minDiscolourSide && a >= least {
				add(kindDiscoloured+classNames[c], l)
			}
		}
	}
	return
}

func round2(x float64) float64 { return math.Round(x*100) / 100 }

// contours follows the sides between pixels that are in and pixels that are not, each with the inside on its right (in a
// picture whose y runs down: outer borders clockwise, holes the other way), within a box. Corners are given where the side turns.
func contours(pix []uint8, w, h int, b box, in *[256]bool) (out [][][2]int32) {
	at := func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && in[pix[y*w+x]] }
	seen := make([]uint64, (w*h+63)/64) // upper sides of pixels that a loop has run along
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			k := y*w + x
			if y > 0 && x+wordPx <= b.x1 && binary.LittleEndian.Uint64(pix[k:]) == binary.LittleEndian.Uint64(pix[k-w:]) {
				x += wordPx - 1 // all as those above them: there is no upper side
				continue
			}
			if !in[pix[k]] || y > 0 && in[pix[k-w]] {
				continue
			}
			if i := y*w + x; seen[i/64]>>(i%64)&1 != 0 {
				continue
			}
			out = append(out, traceBorder(at, seen, w, x, y))
		}
	}
	return
}

// traceBorder runs from the upper left corner of pixel (x, y) to the right along its upper side and on until it is back.
func traceBorder(at func(x, y int) bool, seen []uint64, w, x0, y0 int) (loop [][2]int32) {
	x, y, dx, dy := x0, y0, 1, 0
	for {
		if dx == 1 { // along the upper side of pixel (x, y)
			i := y*w + x
			seen[i/64] |= 1 << (i % 64)
		}
		x, y = x+dx, y+dy
		// At the corner (x, y): the pixel ahead on the right (the inside's side) and the one ahead on the left.
		rx, ry, lx, ly := x, y, x, y
		switch {
		case dx == 1:
			ly--
		case dx == -1:
			rx, ry, lx = x-1, y-1, x-1
		case dy == 1:
			rx = x - 1
		default:
			ry, lx, ly = y-1, x-1, y-1
		}
		ndx, ndy := dx, dy
		switch {
		case !at(rx, ry): // nothing ahead on the right: turn right
			ndx, ndy = -dy, dx
		case at(lx, ly): // both: turn left
			ndx, ndy = dy, -dx
		}
		if ndx != dx || ndy != dy {
			loop = append(loop, [2]int32{int32(x), int32(y)})
			dx, dy = ndx, ndy
		}
		if x == x0 && y == y0 && dx == 1 && dy == 0 {
			return
		}
	}
}

// contourArea is the signed area in px: positive for an outer border.
func contourArea(l [][2]int32) float64 {
	s := 0.0
	for i, p := range l {
		q := l[(i+1)%len(l)]
		s += float64(p[0])*float64(q[1]) - float64(q[0])*float64(p[1])
	}
	return s / 2
}

// simplify thins a closed line so that it stays within tol of where it was (Douglas & Peucker 1973), split first at
// its two most distant points. The staircase of pixel sides is run through the middles of its steps.
func simplify(l [][2]int32, tol float64) [][2]float64 {
	n := len(l)
	if n < 4 { // corners that a single pixel has
		return nil
	}
	p := make([][2]float64, n)
	for i := range l {
		q := l[(i+1)%n]
		p[i] = [2]float64{float64(l[i][0]+q[0]) / 2, float64(l[i][1]+q[1]) / 2}
	}
	far, best := 0, -1.0
	for i := range p {
		if d := math.Hypot(p[i][0]-p[0][0], p[i][1]-p[0][1]); d > best {
			far, best = i, d
		}
	}
	keep := make([]bool, n+1)
	p = append(p, p[0])
	keep[0], keep[far], keep[n] = true, true, true
	type span struct{ a, b int }
	stack := []span{{0, far}, {far, n}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		k, worst := -1, tol
		ax, ay := p[s.a][0], p[s.a][1]
		bx, by := p[s.b][0]-ax, p[s.b][1]-ay
		bl := math.Hypot(bx, by)
		for i := s.a + 1; i < s.b; i++ {
			d := 0.0
			if bl > 0 {
				d = math.Abs((p[i][0]-ax)*by-(p[i][1]-ay)*bx) / bl
			} else {
				d = math.Hypot(p[i][0]-ax, p[i][1]-ay)
			}
			if d > worst {
				k, worst = i, d
			}
		}
		if k > 0 {
			keep[k] = true
			stack = append(stack, span{s.a, k}, span{k, s.b})
		}
	}
	var out [][2]float64
	for i := range n {
		if keep[i] {
			out = append(out, p[i])
		}
	}
	return out
}
