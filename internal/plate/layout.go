package plate

import (
	"fmt"
	"math"
	"strings"
	"time"

	"phototrack/internal/fonts"
	"phototrack/internal/record"
)

// layout is where everything on a plate stands, px of the preset.
type layout struct {
	unit         float64 // a hundredth of the page's shorter side: text and gaps are multiples of it
	w, h         float64
	margin, gap  float64
	pitch        float64 // from panel to panel
	cols         int
	panelW       int
	panelH       int
	captionH     float64
	scale        float64 // px per mm of plant
	scaleWords   string
	centre       Point // of every panel, mm from the frame's anchor
	top          float64
	lineH        float64
	barMM        float64
	rowLabel     float64
	captionLines int
}

// Heads and feet of the page, in units.
const (
	headUnits = 9.5
	footUnits = 3.5
)

// air is how much more than the plants is shown on each side, as a part of their extent.
const air = 0.05

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
	l.captionLines = captionLines(s)
	l.captionH = float64(l.captionLines)*l.lineH + 1.2*l.unit
	l.top = l.margin + headUnits*l.unit
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
		t.fit(s, cols, needW, needH)
		if t.panelW > 8 && t.panelH > 8 && t.scale > l.scale {
			l = t
		}
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
	l.top += max(0, l.spare(s)/2)
	l.pitch = float64(l.panelW) + l.gap
	if l.cols > 1 { // panels made smaller share the page's width evenly
		l.pitch = min(2*float64(l.panelW), (l.w-2*l.margin-float64(l.panelW))/float64(l.cols-1))
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
func (l *layout) fit(s *Spec, cols int, needW, needH float64) {
	lines := 0
	for _, r := range s.Rows {
		lines += (len(r.Frames) + cols - 1) / cols
	}
	l.cols = cols
	l.panelW = int((l.w - 2*l.margin - float64(cols-1)*l.gap) / float64(cols))
	free := l.h - l.top - l.margin - footUnits*l.unit - float64(lines)*l.captionH - float64(lines-1)*l.gap - float64(len(s.Rows))*l.rowLabel
	l.panelH = int(free / float64(lines))
	l.scale = min(float64(l.panelW)/needW, float64(l.panelH)/needH)
	// a panel much taller than the plants shows only backdrop: let the page breathe instead
	l.panelH = min(l.panelH, int(math.Ceil(1.4*needH*l.scale)))
}

// captionLines is the most lines that stand under any panel: date, values, events since the frame before.
func captionLines(s *Spec) int {
	most := 1
	for _, r := range s.Rows {
		for i, f := range r.Frames {
			n := 1 + len(f.Values) + len(between(r, i))
			if f.Head != "" {
				n++
			}
			most = max(most, n)
		}
	}
	return most
}

// between lists what was done after the frame before and up to the day of this frame. What was done on the very day
// of a photo counts as done after it.
func between(r Row, i int) []string {
	if i == 0 {
		return nil
	}
	var out []string
	for _, e := range r.Events {
		if e.Date >= r.Frames[i-1].Date && e.Date < r.Frames[i].Date {
			out = append(out, eventWords(e)...)
		}
	}
	return out
}

// eventWords is an event in one line, and its note in a second.
func eventWords(e record.Event) []string {
	out := []string{"since: " + e.Kind + ", " + dayWords(e.Date)}
	if e.Note != "" {
		out = append(out, e.Note)
	}
	return out
}

// compose lays the plate out on a surface.
func compose(s *Spec, l layout, on surface) error {
	w := s.days()
	w.Scale = l.scaleWords
	title, err := fill("title", s.Title, DefaultTitle, w)
	if err != nil {
		return err
	}
	caption, err := fill("caption", s.Caption, DefaultCaption, w)
	if err != nil {
		return err
	}
	if s.hasNew() {
		caption += " Orange and wider: root that is new since the picture before."
	}
	u, room := l.unit, l.w-2*l.margin
	on.text(l.margin, l.margin+3.6*u, 4.6*u, serif, darkInk, left, cut(on, 4.6*u, serif, title, room))
	on.text(l.margin, l.margin+6.9*u, 2*u, serifItalic, quietInk, left, cut(on, 2*u, serifItalic, caption, room))
	y := l.top
	for _, r := range s.Rows {
		if l.rowLabel > 0 {
			on.text(l.margin, y+2*u, 2.2*u, sansBold, darkInk, left, cut(on, 2.2*u, sansBold, r.Label, room))
			y += l.rowLabel
		}
		for i := range r.Frames {
			col := i % l.cols
			if i > 0 && col == 0 {
				y += float64(l.panelH) + l.captionH + l.gap
			}
			x := l.margin + float64(col)*l.pitch
			drawPanel(on, l, &r.Frames[i], int(x), int(y))
			drawCaption(on, l, r, i, math.Floor(x), math.Floor(y)+float64(l.panelH))
		}
		y += float64(l.panelH) + l.captionH + l.gap
	}
	if s.Credit != "" {
		on.text(l.w-l.margin, l.h-l.margin, 1.5*u, sans, quietInk, right, s.Credit)
	}
	return nil
}

// hasNew says that new growth is drawn on a frame.
func (s *Spec) hasNew() bool {
	for _, f := range s.frames() {
		for _, l := range f.Lines {
			if l.New {
				return true
			}
		}
	}
	return false
}

// drawPanel draws one frame.
func drawPanel(on surface, l layout, f *Frame, x, y int) {
	if f.Image == nil || f.Image.Bounds().Empty() {
		on.fill(float64(x), float64(y), float64(l.panelW), float64(l.panelH), ground)
		on.text(float64(x)+float64(l.panelW)/2, float64(y)+float64(l.panelH)/2, 1.9*l.unit, serifItalic, quietInk, centre, "no photo")
		return
	}
	on.picture(x, y, panel(f, l.panelW, l.panelH, l.scale, l.centre))
	drawLines(on, l, f, x, y)
}

// drawLines draws a frame's lines in mm, cut at the panel's edge.
func drawLines(on surface, l layout, f *Frame, x, y int) {
	for _, ln := range f.Lines {
		c, wide := oldRootInk, max(ln.WidthMM*l.scale, 0.25*l.unit)
		if ln.New {
			c, wide = accentInk, 1.5*wide // colour is not the only sign
		}
		var run []Point
		flush := func() {
			if len(run) > 1 { // a dark rim keeps a line in sight on pale roots and on bark
				on.line(run, wide+0.3*l.unit, darkInk)
				on.line(run, wide, c)
			}
			run = nil
		}
		for _, p := range ln.Points {
			q := l.place(f, p)
			if q.X < 0 || q.Y < 0 || q.X > float64(l.panelW) || q.Y > float64(l.panelH) {
				flush()
				continue
			}
			run = append(run, Point{q.X + float64(x), q.Y + float64(y)})
		}
		flush()
	}
}

// place maps mm of a frame to px of its panel.
func (l *layout) place(f *Frame, p Point) Point {
	return Point{(p.X-f.Anchor.X-l.centre.X)*l.scale + float64(l.panelW)/2, (p.Y-f.Anchor.Y-l.centre.Y)*l.scale + float64(l.panelH)/2}
}

// drawBar draws the scale bar under a panel's right end, its words before it, and gives the width that both take.
func drawBar(on surface, l layout, end, base float64) float64 {
	u := l.unit
	long := l.barMM * l.scale
	label := fmt.Sprintf("%g mm", l.barMM)
	on.fill(end-long, base-0.75*u, long, barUnits*u, darkInk)
	on.text(end-long-0.7*u, base, 1.6*u, sans, darkInk, right, label)
	return long + 1.6*u + on.width(1.6*u, sans, label)
}

// barUnits is the thickness of the scale bar, in units.
const barUnits = 0.5

func drawCaption(on surface, l layout, r Row, i int, x, y float64) {
	f, u := r.Frames[i], l.unit
	w := float64(l.panelW)
	y += l.lineH
	if f.Head != "" {
		on.text(x, y, 2.1*u, sansBold, darkInk, left, cut(on, 2.1*u, sansBold, f.Head, w))
		y += l.lineH
	}
	if f.Image != nil {
		w -= drawBar(on, l, x+w, y)
	}
	weight, ink := sansBold, darkInk
	if f.Head != "" {
		weight, ink = sans, quietInk
	}
	on.text(x, y, 1.9*u, weight, ink, left, cut(on, 1.9*u, weight, dayThatFits(on, 1.9*u, f.Date, w), w))
	w = float64(l.panelW)
	for _, v := range f.Values {
		y += l.lineH
		on.text(x, y, 1.8*u, sans, darkInk, left, cut(on, 1.8*u, sans, v, w))
	}
	for _, e := range between(r, i) {
		y += l.lineH
		on.text(x, y, 1.8*u, serifItalic, accentDark, left, cut(on, 1.8*u, serifItalic, e, w))
	}
}

// dayThatFits writes a date in full where there is room, else with its month cut short.
func dayThatFits(on surface, size float64, date string, room float64) string {
	if full := dayWords(date); on.width(size, sansBold, full) <= room {
		return full
	}
	if t, err := time.Parse(time.DateOnly, date); err == nil {
		return t.Format("2 Jan 2006")
	}
	return date
}

// cut shortens a text to a width, with an ellipsis.
func cut(on surface, size float64, f face, s string, room float64) string {
	s = strings.Map(fonts.Printable, s)
	if on.width(size, f, s) <= room {
		return s
	}
	r := []rune(s)
	for len(r) > 1 {
		r = r[:len(r)-1]
		if t := strings.TrimRight(string(r), " ,") + "…"; on.width(size, f, t) <= room {
			return t
		}
	}
	return string(r)
}
