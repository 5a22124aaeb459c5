package plate

import (
	"fmt"
	"math"
	"slices"
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
	win         Box   // what every panel shows, mm from the frame's anchor
	centre      Point // its middle
	lines       [][]cellAt
	top         float64
	lineH       float64
	barMM       float64
	shortDates  bool // there is no room for all dates in full
	barBelow    bool // there is no room for a date and the scale bar in one line
	captionRows int  // lines of the caption under the title
}

// Heads and feet of the page, in units.
const (
	titleUnits    = 4.0 // size of the title
	captionUnits  = 1.9 // size of the caption
	captionPitch  = 2.4 // from line to line of it
	headUnits     = 7.8 // with one line of caption
	footUnits     = 3.0
	rowLabelUnits = 3.0 // the name over a plant's panels
)

// mostCaptionRows is how many lines a caption may take; what is longer is cut.
const mostCaptionRows = 2

// air is how much more than the plants is shown on each side, as a part of their extent.
const air = 0.05

// widestPitch is from panel to panel at the most, in widths of a panel.
const widestPitch = 1.2

// leastPanelPx is the side of a panel below which an arrangement is none.
const leastPanelPx = 8

// sheetOf is the page, with the room that title and caption take.
func sheetOf(s *Spec, ruler surface) layout {
	l := layout{w: float64(s.Preset.W), h: float64(s.Preset.H)}
	l.unit = min(l.w, l.h) / 100
	if s.Preset.Fit {
		l.unit = l.w / fitUnits
	}
	l.margin, l.gap, l.lineH = 4*l.unit, 2*l.unit, 2.25*l.unit
	l.captionRows = len(captionLines(ruler, &l, s.filled("1 : 2.5").Caption))
	l.top = l.margin + (headUnits+captionPitch*float64(max(0, l.captionRows-1)))*l.unit
	return l
}

// plan settles how panels are arranged, columns and scale: whichever shows the plants largest.
func plan(s *Spec) (layout, error) {
	frames := s.frames()
	if len(frames) == 0 {
		return layout{}, ErrNothing
	}
	need := s.need
	for _, f := range frames {
		need = need.union(f.reach())
	}
	if need.Empty() {
		return layout{}, fmt.Errorf("%w: the plants have no extent", ErrNothing)
	}
	ruler := newRaster(0, 0, paperInk)
	l := sheetOf(s, ruler)
	rim := air
	if frames[0].whole {
		rim = 0
	}
	rimX, rimY := (need.X1-need.X0)*rim, (need.Y1-need.Y0)*rim
	least := windowOf(frames, Box{need.X0 - rimX, need.Y0 - rimY, need.X1 + rimX, need.Y1 + rimY}, need)
	for _, lines := range arrangements(s) {
		t := l
		t.lines = lines
		t.fit(s, ruler, least.X1-least.X0, least.Y1-least.Y0)
		if t.panelW > leastPanelPx && t.panelH > leastPanelPx && t.scale > l.scale*worthwhile {
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
	l.open(frames, least, need)
	l.barBelow = !roomForBar(ruler, l, s)
	l.captionH = float64(mostLines(s, ruler, &l))*l.lineH + 1.2*l.unit // for the width that the panels have in the end
	if s.Preset.Fit {
		l.h -= l.spare(s)
		s.Preset.H = int(math.Ceil(l.h))
	} else {
		l.top += max(0, 0.4*l.spare(s)) // a little above the middle, where the eye takes the middle to be
	}
	l.pitch = float64(l.panelW) + l.gap
	if l.cols > 1 { // panels made smaller move apart, but not so far that a row falls into pieces
		l.pitch = min(widestPitch*float64(l.panelW), (l.w-2*l.margin-float64(l.panelW))/float64(l.cols-1))
	}
	return l, nil
}

// fitUnits is how many units wide a page is whose height fits what is on it.
const fitUnits = 120

// worthwhile is how much larger plants must be shown by a later arrangement to be taken instead of an earlier one.
const worthwhile = 1.01

// cellAt names a panel: a frame of a row.
type cellAt struct{ row, frame int }

// arrangements are the ways to put the panels in lines: each plant's dates in lines of its own, of so many columns; or,
// of several plants with few dates, all side by side.
func arrangements(s *Spec) (out [][][]cellAt) {
	longest := 0
	for _, r := range s.Rows {
		longest = max(longest, len(r.Frames))
	}
	for cols := 1; cols <= longest; cols++ {
		var lines [][]cellAt
		for i, r := range s.Rows {
			lines = slices.AppendSeq(lines, slices.Chunk(r.cells(i), cols))
		}
		out = append(out, lines)
	}
	for rows := 2; rows <= len(s.Rows); rows++ { // plants beside each other, so many in a line
		var lines [][]cellAt
		for from := 0; from < len(s.Rows); from += rows {
			var line []cellAt
			for i := from; i < min(from+rows, len(s.Rows)); i++ {
				line = append(line, s.Rows[i].cells(i)...)
			}
			lines = append(lines, line)
		}
		out = append(out, lines)
	}
	return out
}

// cells are the panels of the i-th row.
func (r *Row) cells(i int) (out []cellAt) {
	for j := range r.Frames {
		out = append(out, cellAt{i, j})
	}
	return out
}

// labelled says that a line of panels has a row's name over one of them.
func (l *layout) labelled(s *Spec, line []cellAt) bool {
	if len(s.Rows) < 2 {
		return false
	}
	for _, c := range line {
		if c.frame == 0 {
			return true
		}
	}
	return false
}

// labels is the height that the names of rows take.
func (l *layout) labels(s *Spec) (h float64) {
	for _, line := range l.lines {
		if l.labelled(s, line) {
			h += rowLabelUnits * l.unit
		}
	}
	return h
}

// spare is the height that the panels leave free: they stand in the middle of it.
func (l *layout) spare(s *Spec) float64 {
	n := float64(len(l.lines))
	return l.h - l.top - l.margin - footUnits*l.unit - n*(float64(l.panelH)+l.captionH) - (n-1)*l.gap - l.labels(s)
}

// open settles the window that the panels show: what there is room for, as far as the photos reach.
func (l *layout) open(frames []*Frame, least, need Box) {
	w, h := float64(l.panelW)/l.scale, float64(l.panelH)/l.scale
	cx, cy := (least.X0+least.X1)/2, (least.Y0+least.Y1)/2
	want := Box{cx - w/2, cy - h/2, cx + w/2, cy + h/2}
	if !want.holds(least) { // an exact scale, or another page's, may leave less room
		want = least
	}
	l.win = windowOf(frames, want, need)
	if b := l.win; b.X1-b.X0 > w+0.01 || b.Y1-b.Y0 > h+0.01 { // to take a card in whole was too much
		l.win = least
	}
	l.centre = Point{(l.win.X0 + l.win.X1) / 2, (l.win.Y0 + l.win.Y1) / 2}
	l.panelW, l.panelH = int((l.win.X1-l.win.X0)*l.scale), int((l.win.Y1-l.win.Y0)*l.scale)
	l.barMM = barLength(float64(l.panelW) / l.scale)
}

// fit gives panel size and scale for the lines, where a panel must show so many mm.
func (l *layout) fit(s *Spec, ruler surface, needW, needH float64) {
	l.cols = 0
	for _, line := range l.lines {
		l.cols = max(l.cols, len(line))
	}
	n := float64(len(l.lines))
	l.panelW = int((l.w - 2*l.margin - float64(l.cols-1)*l.gap) / float64(l.cols))
	l.captionH = float64(mostLines(s, ruler, l))*l.lineH + 1.2*l.unit
	free := l.h - l.top - l.margin - footUnits*l.unit - n*l.captionH - (n-1)*l.gap - l.labels(s)
	l.panelH = int(free / n)
	l.scale = min(float64(l.panelW)/needW, float64(l.panelH)/needH)
	// a panel much taller than the plants shows only backdrop: let the page breathe instead
	l.panelH = min(l.panelH, int(math.Ceil(1.25*needH*l.scale)))
}
