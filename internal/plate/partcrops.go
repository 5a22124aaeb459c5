package plate

import (
	"image"

	"phototrack/internal/pixels"
)

// PartCrops cuts frames of one plant to one part of it, at one scale, with the part's line drawn: each is at most w x h px. A
// frame without a line on the part, or without a picture, gives a crop without one. ok is false where no frame has the part.
func PartCrops(frames []Frame, part string, w, h int) (out []Crop, ok bool) {
	out = make([]Crop, len(frames))
	var fs []*Frame
	var at []int
	var lines [][]Line
	var need, want Box
	for i := range frames {
		f := frames[i] // a copy: its extent is the part's
		own := f.linesOf(part)
		if len(own) == 0 || f.Image == nil || f.Image.Bounds().Empty() {
			continue
		}
		var all []Point
		for _, l := range own {
			all = append(all, l.Points...)
		}
		b := boxOf(all)
		f.Extent = b.grown(partCloseMM)
		b = b.grown(max(partRimMM, partRimShare*max(b.X1-b.X0, b.Y1-b.Y0)))
		b = b.widened(max(partLeastMM, partLeastShare*max(b.X1-b.X0, b.Y1-b.Y0)))
		// Frames stand on the part's own foot, so that what grew grows out of the same place.
		f.Anchor = own[0].Points[0]
		fs, at, lines, need = append(fs, &f), append(at, i), append(lines, own), need.union(f.reach())
		want = want.union(f.within(b.moved(-f.Anchor.X, -f.Anchor.Y)))
	}
	if len(fs) == 0 || need.Empty() {
		return nil, false
	}
	win := windowOf(fs, want.union(need), need)
	scale := min(float64(w)/(win.X1-win.X0), float64(h)/(win.Y1-win.Y0))
	for k, f := range fs {
		p := f.part(win)
		x, y, pw, ph := p.onPx(win, scale)
		m := panel(f, pw, ph, scale, Point{(p.X0 + p.X1) / 2, (p.Y0 + p.Y1) / 2})
		drawn := newRaster(pw, ph, ground)
		drawn.picture(0, 0, m)
		pixels.Done(m)
		for _, l := range lines[k] {
			var run []Point
			for _, q := range l.Points {
				run = append(run, Point{(q.X - f.Anchor.X - p.X0) * scale, (q.Y - f.Anchor.Y - p.Y0) * scale})
			}
			drawn.line(run, partLinePx+2, darkInk)
			drawn.line(run, partLinePx, accentInk)
		}
		out[at[k]] = Crop{Image: drawn.m, PxPerMM: scale, At: image.Pt(x, y)}
		_, _, out[at[k]].FullW, out[at[k]].FullH = win.onPx(win, scale)
	}
	return out, true
}

const (
	partCloseMM    = 2.0  // around a part's line in any case: the rest makes way for a card or tag that would be cut
	partRimMM      = 8.0  // around a part's line, at least
	partRimShare   = 0.15 // of the line's extent
	partLeastMM    = 36.0 // of either side, so that a storage organ is seen above and below its width
	partLeastShare = 0.35 // of the longer side
	partLinePx     = 2.0
)

// widened is the box with sides of at least a length, about its middle.
func (b Box) widened(least float64) Box {
	dx, dy := max(0, least-(b.X1-b.X0))/2, max(0, least-(b.Y1-b.Y0))/2
	return Box{b.X0 - dx, b.Y0 - dy, b.X1 + dx, b.Y1 + dy}
}

// linesOf are a frame's lines on a part.
func (f *Frame) linesOf(part string) (out []Line) {
	for _, l := range f.Lines {
		if l.Part == part && part != "" && len(l.Points) > 1 {
			out = append(out, l)
		}
	}
	return
}
