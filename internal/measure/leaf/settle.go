package leaf

import (
	"math"

	"phototrack/internal/colour"
)

// settle takes back classes that are only the passage from one colour to another. Where green meets purple the mixed
// pixels between are yellow and brown by hue, and at the outline the ground mixes in; such a layer is as thin as the
// lens and the camera's colour sampling make it. Yellow and brown that is no wider than that is decided anew, and so is
// every pixel at a border between classes.
func settle(f *fine, in *Input, p *palette, reach int) {
	s := settler{f: f, in: in, p: p, reach: reach}
	b := bounds(f.class, f.w, f.h)
	for y := b.y0; y < b.y1; y++ {
		for x := b.x0; x < b.x1; x++ {
			c := f.class[y*f.w+x]
			if c != Yellow+1 && c != Brown+1 && f.even(x, y) { // no border, and nothing that may be a passage
				x += paintRun - 1
				continue
			}
			if c >= Green+1 && (f.atBorder(x, y) || (c == Yellow+1 || c == Brown+1) && f.layer(x, y, reach)) {
				s.pending = append(s.pending, int32(y*f.w+x))
			}
		}
	}
	for _, i := range s.pending {
		f.class[i] = pending
	}
	s.byColour()
	s.byNeighbours()
}

// settler gives pixels whose class was taken back another.
type settler struct {
	f       *fine
	in      *Input
	p       *palette
	reach   int     // half the width of the window that is looked at round a pixel, fine px
	pending []int32 // the pixels, until each has its class
}

// pending marks a pixel whose class was taken back.
const pending = 255

// atBorder says whether a pixel touches leaf of another class.
func (f *fine) atBorder(x, y int) bool {
	w, i := f.w, y*f.w+x
	c := f.class[i]
	return x > 0 && y > 0 && x < w-1 && y < f.h-1 &&
		(differ(c, f.class[i-1]) || differ(c, f.class[i+1]) || differ(c, f.class[i-w]) || differ(c, f.class[i+w]))
}

// layer says whether a pixel's class fills less of the leaf about it than a patch does.
func (f *fine) layer(x, y, reach int) bool {
	w, h, i := f.w, f.h, y*f.w+x
	c := f.class[i]
	if x >= reach && x < w-reach && y >= reach && y < h-reach &&
		f.class[i-reach] == c && f.class[i+reach] == c && f.class[i-reach*w] == c && f.class[i+reach*w] == c {
		return false
	}
	same, all := 0, 0
	for yy := max(0, y-reach); yy <= min(h-1, y+reach); yy++ {
		for _, v := range f.class[yy*w+max(0, x-reach) : yy*w+min(w, x+reach+1)] {
			if v != 0 {
				all++
				if v == c {
					same++
				}
			}
		}
	}
	return 100*same < patchPercent*all // per cent
}

const (
	// patchPercent is how much of the leaf in the window about a pixel a patch of yellow or brown fills at least: at the straight border of a
	// wide patch it is half, and a little less where that border is round. By eye.
	patchPercent = 45
	// fewOfClass is how many pixels of a class must be settled nearby for a pixel to be given it: one or two may be noise themselves. By eye.
	fewOfClass = 3
)

// differ says whether two pixels are leaf of different classes.
func differ(a, b uint8) bool { return a > NoClass+1 && b > NoClass+1 && a != b }

// byColour gives a pending pixel the class, of those settled in its window, whose mean colour there it is nearest
// to in linear light: the edge between two colours is where their mixture is half and half.
func (s *settler) byColour() {
	to := make([]uint8, len(s.pending))
	for k, i := range s.pending {
		to[k] = s.nearestColour(int(i)%s.f.w, int(i)/s.f.w)
	}
	for k, i := range s.pending {
		if to[k] != 0 {
			s.f.class[i] = to[k]
		}
	}
}

// nearestColour is the settled class in a pixel's window whose mean colour the pixel's is nearest to; 0 where there is none.
func (s *settler) nearestColour(x, y int) (nearest uint8) {
	f, reach := s.f, s.reach
	var sum [classCodes]colour.RGB
	var n [classCodes]float64
	for yy := max(0, y-reach); yy <= min(f.h-1, y+reach); yy++ {
		for xx := max(0, x-reach); xx <= min(f.w-1, x+reach); xx++ {
			if v := f.class[yy*f.w+xx]; v > NoClass+1 && v != pending {
				c := &s.p.cells[s.p.at(f.camera(s.in, xx, yy))].lin
				for j := range c {
					sum[v][j] += c[j]
				}
				n[v]++
			}
		}
	}
	c := &s.p.cells[s.p.at(f.camera(s.in, x, y))].lin
	best := math.Inf(1)
	for v := range n {
		if n[v] < fewOfClass {
			continue
		}
		d := 0.0
		for j := range c {
			d += (sum[v][j]/n[v] - c[j]) * (sum[v][j]/n[v] - c[j])
		}
		if d < best {
			best, nearest = d, uint8(v)
		}
	}
	return nearest
}

// byNeighbours lets the classes grow into what is still pending, a pixel at a time.
func (s *settler) byNeighbours() {
	f := s.f
	for len(s.pending) > 0 {
		var next, set []int32
		var to []uint8
		for _, i := range s.pending {
			if f.class[i] != pending {
				continue
			}
			if v := f.mostAround(int(i)%f.w, int(i)/f.w); v != 0 {
				set, to = append(set, i), append(to, v)
			} else {
				next = append(next, i)
			}
		}
		for j, i := range set {
			f.class[i] = to[j]
		}
		if len(set) == 0 { // no class lies anywhere near: they are leaf that is not judged
			for _, i := range next {
				f.class[i] = NoClass + 1
			}
			return
		}
		s.pending = next
	}
}

// mostAround is the class that most of the settled pixels about one have, one that is judged before what is not; 0 where all are pending.
func (f *fine) mostAround(x, y int) (most uint8) {
	var n [classCodes]int
	for yy := max(0, y-1); yy <= min(f.h-1, y+1); yy++ {
		for _, v := range f.class[yy*f.w+max(0, x-1) : yy*f.w+min(f.w, x+2)] {
			if v != 0 && v != pending {
				n[v]++
			}
		}
	}
	for v := Green + 1; v <= Brown+1; v++ {
		if n[v] > n[most] {
			most = v
		}
	}
	if most == 0 && n[NoClass+1] > 0 {
		return NoClass + 1
	}
	return most
}

// classCodes is how many values a mask of classes has: 0 outside the leaf, else a class's code and one.
const classCodes = Brown + 2
