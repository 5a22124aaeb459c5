package root

import (
	"math"
	"slices"

	"phototrack/internal/wall"
)

const (
	// leastShown is the share of a pot's height that must be in the photo for it to be known as one that is cut off.
	leastShown = 0.4
	// plainlyCut is how much better such a pot must fit than the best that is whole, in the score's units. The 19 whole pots of ../shared/scenes fit
	// worse cut off by 0.14 and more; cropped to four fifths, two thirds and half of their height, all 57 fit better by 0.22 and more.
	plainlyCut = 0.05
	// surelyWhole is the score from which that need not be asked: no pot that was cropped reaches 0.72 whole.
	surelyWhole = 0.85
	// wholeShown is the share of the height from which a pot is left to findPot; cutStep is the step down the photo, mm: edges are drawn three wide.
	wholeShown, cutStep = 0.95, 3
)

// bestCut is the best score of an outline that the photo's lower or upper edge cuts: of the sides counts what is in the photo, of the two
// rings the one that is.
func (o *outline) bestCut(p *plane, eye wall.Vec, offset, r float64) float64 {
	height := o.ends[1].y
	top, bottom := p.rowsShown()
	var best float32
	dist := -eye[2] - offset
	for y := p.y0 - height; y < p.y0+float64(p.h); y += cutStep {
		if y+o.y[0] >= top && y+o.y[len(o.y)-1] <= bottom { // whole, in most columns
			continue
		}
		left, right := o.shownAlong(p, y, r, 2)
		for k := range left {
			// Whole outlines are left to findPot.
			if left[k].n < leastShown*float32(len(o.y)) || left[k].n > wholeShown*float32(len(o.y)) || right[k].n < leastShown*float32(len(o.y)) {
				continue
			}
			l, s := left[k].sum/left[k].n, right[k].sum/right[k].n
			if min(l, s) < leastSide {
				continue
			}
			x := p.x0 + r + 2*float64(k)
			a, b := o.ringsAt(p, eye, dist, x, y)
			best = max(best, together(l, s, max(a, b)))
		}
	}
	return float64(best)
}

// rowsShown is between which mm of the plane the photo shows anything.
func (p *plane) rowsShown() (top, bottom float64) {
	first, last := slices.Index(p.ok, true), len(p.ok)-1
	for last > first && !p.ok[last] {
		last--
	}
	return p.y0 + float64(first/p.w), p.y0 + float64(last/p.w)
}

// shown is the sum of the edges of a side over the n rows that are in the photo.
type shown struct{ sum, n float32 }

// shownAlong is sidesAlong with the rows that are in the photo counted.
func (o *outline) shownAlong(p *plane, y, from float64, step int) (left, right []shown) {
	n := max(0, int(math.Ceil((float64(p.w)-2*from)/float64(step))))
	left, right = make([]shown, n), make([]shown, n)
	for i := range o.y {
		v := int(math.Floor(y + o.y[i] - p.y0 + 0.5))
		if v < 0 || v >= p.h {
			continue
		}
		row, ok := p.gx[v*p.w:(v+1)*p.w], p.ok[v*p.w:(v+1)*p.w]
		for s, side := range [2][]shown{left, right} {
			u := int(math.Floor(from + (2*float64(s)-1)*o.half[i] + 0.5))
			for k := range side {
				if at := u + k*step; uint(at) < uint(len(row)) && ok[at] {
					side[k].sum += row[at]
					side[k].n++
				}
			}
		}
	}
	return
}
