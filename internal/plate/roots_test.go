package plate

import (
	"math"

	"phototrack/internal/record"
)

// rootWidthMM is how wide a root's centreline is drawn: thinner than any root, so that the root stays visible.
const rootWidthMM = 0.8

// touchMM is how far from an older centreline a stretch may run and still be the same root: half a root's width and
// what a month's photos differ by when the pot is set down a little turned.
const touchMM = 4.0

// drawRoots puts the centrelines of each month on its frame, new growth in the accent: what runs farther than 4 mm from
// every centreline of the frame before. roots[i] belongs to frames[i] (mm on the wall); the first month has no new
// growth. Frames and roots must be as many.
func drawRoots(frames []Frame, roots [][][]record.Point) {
	for i := range frames {
		if i >= len(roots) {
			return
		}
		var before [][]record.Point
		if i > 0 {
			before = roots[i-1]
		}
		frames[i].Lines = nil
		for _, r := range roots[i] {
			frames[i].Lines = append(frames[i].Lines, split(r, before, i > 0)...)
		}
	}
}

// split cuts a centreline into stretches that were there before and stretches that are new.
func split(root []record.Point, before [][]record.Point, compare bool) []Line {
	var out []Line
	for i, q := range root {
		fresh := compare && far(q, before)
		n := len(out)
		if n == 0 || out[n-1].New != fresh {
			l := Line{WidthMM: rootWidthMM, New: fresh}
			if i > 0 { // stretches meet without a gap
				l.Points = append(l.Points, Point{root[i-1].X, root[i-1].Y})
			}
			out = append(out, l)
			n++
		}
		out[n-1].Points = append(out[n-1].Points, Point{q.X, q.Y})
	}
	return out
}

// far says that a point lies farther than touchMM from every line.
func far(q record.Point, lines [][]record.Point) bool {
	for _, l := range lines {
		for i := range l {
			a := l[max(i-1, 0)]
			if distance(q, a, l[i]) < touchMM {
				return false
			}
		}
	}
	return true
}

// distance is that of a point to a stretch from a to b.
func distance(q, a, b record.Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = min(max(((q.X-a.X)*dx+(q.Y-a.Y)*dy)/l, 0), 1)
	}
	return math.Hypot(q.X-a.X-t*dx, q.Y-a.Y-t*dy)
}
