package plate

import (
	"fmt"
	"math"
)

// layout is where everything on a plate stands, px of the preset.
type layout struct {
	unit        float64 // a hundredth of the page's shorter side: text and gaps are multiples of it
	w, h        float64
	margin, gap float64
	pitch       float64 // from panel to panel
	cols        int
	panelW      int
	panelH      int
	captionH    float64
	scale       float64 // px per mm of plant
	scaleWords  string
	centre      Point // of every panel, mm from the frame's anchor
	top         float64
	lineH       float64
	barMM       float64
	rowLabel    float64
	shortDates  bool // there is no room for all dates in full
	captionRows int  // lines of the caption under the title
}

// Heads and feet of the page, in units.
const (
	titleUnits   = 4.6 // size of the title
	captionUnits = 2.0 // size of the caption
	captionPitch = 2.5 // from line to line of it
	headUnits    = 9.5 // with one line of caption
	footUnits    = 3.5
)

// mostCaptionRows is how many lines a caption may take; what is longer is cut.
const mostCaptionRows = 2

// air is how much more than the plants is shown on each side, as a part of their extent.
const air = 0.05

// widestPitch is from panel to panel at the most, in widths of a panel.
const widestPitch = 1.2

// plan settles columns and scale: the number of columns that shows the plants largest.
func plan(s *Spec) (layout, error) {
	frames := s.frames()
	if len(frames) == 0 {
		return layout{}, ErrNothing
	}
	all := s.need
	for _, f := range frames {
		all = all.union(f.extent())
	}
	if all.Empty() {
		return layout{}, fmt.Errorf("%w: the plants have no extent", ErrNothing)
	}
	l := layout{w: float64(s.Preset.W), h: float64(s.Preset.H), centre: Point{(all.X0 + all.X1) / 2, (all.Y0 + all.Y1) / 2}}
	l.unit = min(l.w, l.h) / 100
	l.margin, l.gap, l.lineH = 4*l.unit, 2*l.unit, 2.35*l.unit
	ruler := newRaster(0, 0, paperInk)
	l.captionRows = len(captionLines(ruler, &l, s.filled("1 : 2.5").Caption))
	l.top = l.margin + (headUnits+captionPitch*float64(max(0, l.captionRows-1)))*l.unit
	if len(s.Rows) > 1 {
		l.rowLabel = 3.2 * l.unit
	}
	needW, needH := (all.X1-all.X0)*(1+2*air), (all.Y1-all.Y0)*(1+2*air)
	longest := 0
	for _, r := range s.Rows {
		longest = max(longest, len(r.Frames))
	}
	for cols := 1; cols <= longest; cols++ {
		t := l
		t.fit(s, ruler, cols, needW, needH)
		if t.panelW > 8 && t.panelH > 8 && t.scale > l.scale {
			l = t
		}
	}
	if ruler.err != nil {
		return l, ruler.err
	}
	if l.scale <= 0 {
		return l, fmt.Errorf("%d pictures do not fit on the preset %s", len(frames), s.Preset.Name)
	}
	if s.fixed > 0 {
		l.scale = s.fixed
	}
	if s.Exact {
		l.scale, l.scaleWords = exactScale(l.scale, s.Preset.DPI)
	}
	l.trim(frames)
	l.barMM = barLength(float64(l.panelW) / l.scale)
	l.top += max(0, 0.4*l.spare(s)) // a little above the middle, where the eye takes the middle to be
	l.pitch = float64(l.panelW) + l.gap
	if l.cols > 1 { // panels made smaller move apart, but not so far that a row falls into pieces
		l.pitch = min(widestPitch*float64(l.panelW), (l.w-2*l.margin-float64(l.panelW))/float64(l.cols-1))
	}
	return l, nil
}

// spare is the height that the panels leave free: they stand in the middle of it.
func (l *layout) spare(s *Spec) float64 {
	lines := 0
	for _, r := range s.Rows {
		lines += (len(r.Frames) + l.cols - 1) / l.cols
	}
	used := float64(lines)*(float64(l.panelH)+l.captionH) + float64(lines-1)*l.gap + float64(len(s.Rows))*l.rowLabel
	return l.h - l.top - l.margin - footUnits*l.unit - used
}

// trim moves the panels' window to where all photos cover it, and makes panels smaller where they do not: a strip of
// nothing beside a plant helps nobody. The plants' own extent is always shown.
func (l *layout) trim(frames []*Frame) {
	have, need := frames[0].covered(), frames[0].extent()
	for _, f := range frames[1:] {
		c := f.covered()
		have = Box{max(have.X0, c.X0), max(have.Y0, c.Y0), min(have.X1, c.X1), min(have.Y1, c.Y1)}
		need = need.union(f.extent())
	}
	rimX, rimY := (need.X1-need.X0)*air, (need.Y1-need.Y0)*air
	if frames[0].whole {
		rimX, rimY = 0, 0
	}
	have = have.union(Box{need.X0 - rimX, need.Y0 - rimY, need.X1 + rimX, need.Y1 + rimY})
	var w, h float64
	l.centre.X, w = window(l.centre.X, float64(l.panelW)/l.scale, have.X0, have.X1)
	l.centre.Y, h = window(l.centre.Y, float64(l.panelH)/l.scale, have.Y0, have.Y1)
	l.panelW, l.panelH = int(w*l.scale), int(h*l.scale)
}

// window shifts and, where it must, shrinks a stretch about a middle into [lo, hi].
func window(mid, size, lo, hi float64) (float64, float64) {
	if size >= hi-lo {
		return (lo + hi) / 2, hi - lo
	}
	return min(max(mid, lo+size/2), hi-size/2), size
}

// fit gives panel size and scale for a number of columns.
func (l *layout) fit(s *Spec, ruler surface, cols int, needW, needH float64) {
	lines := 0
	for _, r := range s.Rows {
		lines += (len(r.Frames) + cols - 1) / cols
	}
	l.cols = cols
	l.panelW = int((l.w - 2*l.margin - float64(cols-1)*l.gap) / float64(cols))
	l.captionH = float64(mostLines(s, ruler, l))*l.lineH + 1.2*l.unit
	free := l.h - l.top - l.margin - footUnits*l.unit - float64(lines)*l.captionH - float64(lines-1)*l.gap - float64(len(s.Rows))*l.rowLabel
	l.panelH = int(free / float64(lines))
	l.scale = min(float64(l.panelW)/needW, float64(l.panelH)/needH)
	// a panel much taller than the plants shows only backdrop: let the page breathe instead
	l.panelH = min(l.panelH, int(math.Ceil(1.4*needH*l.scale)))
}
