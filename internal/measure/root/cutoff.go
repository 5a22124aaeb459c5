package root

import (
	"math"
	"slices"

	"phototrack/internal/wall"
)

const (
	// nearlyWhole is the share of a pot's height that is in the photo from which it is measured: what is lost is told by a gate of its own, and the
	// rest is wide enough to find rim or foot by.
	nearlyWhole = 0.85
	// leastShown is the share of a pot's height that must be in the photo for it to be known as one that is cut off.
	leastShown = 0.4
	// plainlyCut is how much better such a pot must fit than the best that is whole, in the score's units. The whole pots of ../shared/scenes fit
	// worse cut off by 0.16 and more; in photos cropped a little below their foot better by 0.014 at most; cropped by 5 to 12 % of their height, all
	// fit better by 0.12 and more.
	plainlyCut = 0.05
	// plainlySideCut is the same for one that the left or right edge cuts. The 19 whole pots fit better cut off by 0.06 at most; of 76 that were cropped to
	// nine to five tenths of their width 74 do by 0.11 and more.
	plainlySideCut = 0.09
	// surelyWhole is the score from which that need not be asked: no pot that was cropped reaches 0.8 whole.
	surelyWhole = 0.85
	// halfShown is the share of a side's rows up to which the photo does not show that side.
	halfShown = 0.5
	// wholeShown is the share of the height from which a pot is left to findPot; cutStep is the step down the photo, mm: edges are drawn three wide.
	wholeShown, cutStep = 0.95, 3
)

// placed is an outline on the axis plane: how well it fits, where its axis and its rim are, mm, and what share of its height the photo shows.
type placed struct{ score, x, y, shown float64 }

// cutOff looks for an outline that the photo's edge cuts and that fits plainly better than the best that is whole. cut says that there is one,
// which is to say that too little of it is in the photo to measure it by. Else at is where the pot is.
func (o *outline) cutOff(p *plane, eye wall.Vec, offset, r float64, whole placed) (at placed, cut bool) {
	end := o.bestCut(p, eye, offset, r)
	if side := o.bestSideCut(p, eye, offset, r); side > max(whole.score+plainlySideCut, end.score) {
		return whole, true
	}
	if end.score <= whole.score+plainlyCut {
		return whole, false
	}
	return end, end.shown < nearlyWhole
}

// bestCut is the best outline that the photo's lower or upper edge cuts: of the sides counts what is in the photo, of the two rings the one
// that is.
func (o *outline) bestCut(p *plane, eye wall.Vec, offset, r float64) (best placed) {
	height := o.ends[1].y
	top, bottom := p.rowsShown()
	dist := -eye[2] - offset
	for y := p.y0 - height; y < p.y0+float64(p.h); y += cutStep {
		from, to := o.front(eye, dist, y, 0), o.front(eye, dist, y, 1)
		foot := to <= bottom
		if foot == (from >= top) { // whole, or cut at both ends
			continue
		}
		seen := (min(bottom, to) - max(top, from)) / (to - from)
		left, right := o.shownAlong(p, y, r, 2)
		for k := range left {
			if left[k].n < leastShown*float32(len(o.y)) || right[k].n < leastShown*float32(len(o.y)) {
				continue
			}
			l, s := left[k].sum/left[k].n, right[k].sum/right[k].n
			if min(l, s) < leastSide {
				continue
			}
			x := p.x0 + r + 2*float64(k)
			ring, b := o.ringsAt(p, eye, dist, x, y)
			if foot {
				ring = b
			}
			if score := float64(together(l, s, ring)); score > best.score {
				best = placed{score, x, y, seen}
			}
		}
	}
	return best
}

// bestSideCut is the best score of an outline of which the photo shows one side and the greater part of both rings: its left or right edge
// cuts it.
func (o *outline) bestSideCut(p *plane, eye wall.Vec, offset, r float64) float64 {
	top, bottom := p.rowsShown()
	dist := -eye[2] - offset
	rows := float32(len(o.y))
	var best float32
	for y := top - o.y[0]; y+o.y[len(o.y)-1] <= bottom; y += cutStep {
		left, right := o.shownAlong(p, y, r, 2)
		for k := range left {
			in, out := left[k], right[k]
			if in.n < out.n {
				in, out = out, in
			}
			if in.n < wholeShown*rows || out.n > halfShown*rows || in.sum < leastSide*in.n {
				continue
			}
			a, b, ok := o.ringsShown(p, eye, dist, p.x0+r+2*float64(k), y)
			if ok {
				side := in.sum / in.n
				best = max(best, together(side, side, min(a, b)))
			}
		}
	}
	return float64(best)
}

// ringsShown is ringsAt of what the photo shows, where that is enough of both rings.
func (o *outline) ringsShown(p *plane, eye wall.Vec, dist, x, y float64) (rim, foot float32, ok bool) {
	var e, n [2]float32
	for k, end := range o.ends {
		front := o.front(eye, dist, y, k)
		for i := -ringPlaces; i <= ringPlaces; i++ {
			if u := x + ringStep*float64(i)*2*end.r; p.shows(u, front) {
				e[k] += p.look(p.gy, u, front)
				n[k]++
			}
		}
		if n[k] < leastShown*(2*ringPlaces+1) {
			return 0, 0, false
		}
	}
	return e[0] / n[0], e[1] / n[1], true
}

// shows says whether the photo shows a place of the plane.
func (p *plane) shows(x, y float64) bool {
	u, v := int(math.Floor(x-p.x0+0.5)), int(math.Floor(y-p.y0+0.5))
	return u >= 0 && v >= 0 && u < p.w && v < p.h && p.ok[v*p.w+u]
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
