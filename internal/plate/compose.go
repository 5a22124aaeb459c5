package plate

import (
	"fmt"

	"phototrack/internal/fonts"
	"phototrack/internal/pixels"
	"phototrack/internal/words"
)

// compose lays the plate out on a surface.
func compose(s *Spec, l layout, on surface) {
	w := s.filled(l.scaleWords)
	u, room := l.unit, l.w-2*l.margin
	size := titleSize(on, u, w.Title, room)
	on.text(l.margin, l.margin+3.0*u, lettering{size, serif, darkInk, left}, cut(on, size, serif, w.Title, room))
	for i, line := range captionLines(on, &l, w.Caption) {
		on.text(l.margin, l.margin+(5.9+captionPitch*float64(i))*u, lettering{captionUnits * u, serifItalic, quietInk, left}, line)
	}
	l.shortDates = !datesFit(on, l, s)
	for _, c := range l.cells(s) {
		r := &s.Rows[c.row]
		if c.label > 0 {
			on.text(c.x, c.y-0.9*u, lettering{2.1 * u, sansBold, darkInk, left}, cut(on, 2.1*u, sansBold, r.Label, c.label))
		}
		at := slot{on: on, l: &l, x: int(c.x), y: int(c.y)}
		at.panel(&r.Frames[c.frame])
		at.caption(*r, c.frame)
	}
	on.text(l.w-l.margin, l.h-l.margin, lettering{1.5 * u, sans, quietInk, right}, cut(on, 1.5*u, sans, w.Foot, room))
}

// cell is where a panel stands on the page.
type cell struct {
	cellAt
	x, y  float64
	label float64 // the room of the name of its row, which stands over it; 0 for none
}

// cells are the places of all panels.
func (l *layout) cells(s *Spec) (out []cell) {
	y := l.top
	for n, line := range l.lines {
		label := l.labelled(s, line)
		if label {
			y += rowLabelUnits * l.unit
		}
		inset := 0.0
		if len(line) < l.cols && n > 0 && len(s.Rows) == 1 { // a last line that is not full stands in the middle
			inset = float64(l.cols-len(line)) * l.pitch / 2
		}
		for i, c := range line {
			k := cell{cellAt: c, x: l.margin + inset + float64(i)*l.pitch, y: y}
			if label && c.frame == 0 {
				k.label = l.labelRoom(line, i)
			}
			out = append(out, k)
		}
		y += float64(l.panelH) + l.captionH + l.gap
	}
	return out
}

// labelRoom is the width that a row's name has: as far as its own panels go.
func (l *layout) labelRoom(line []cellAt, i int) float64 {
	n := 1
	for i+n < len(line) && line[i+n].row == line[i].row {
		n++
	}
	return float64(n-1)*l.pitch + float64(l.panelW)
}

const (
	closeFit = 0.99 // of the room, so that rounding of glyphs does not overrun it
	thinnest = 0.25 // of the layout's unit: a line that is still seen in print (chosen by eye)
)

// titleSize is the title's size, made smaller, down to three quarters, for one that is too long; a longer one is cut.
func titleSize(on surface, u float64, title string, room float64) float64 {
	const full, least = titleUnits, 0.75 * titleUnits
	w := on.width(full*u, serif, fonts.Clean(title))
	if w <= room {
		return full * u
	}
	return max(least, full*closeFit*room/w) * u
}

// captionLines breaks the caption into the lines that the page has for it.
func captionLines(on surface, l *layout, caption string) []string {
	most := l.captionRows
	if most == 0 {
		most = mostCaptionRows
	}
	size := captionUnits * l.unit
	return fonts.Wrap(caption, most, l.w-2*l.margin, func(t string) float64 { return on.width(size, serifItalic, t) })
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

// slot is where a panel and what stands under it are drawn: its upper left corner, px.
type slot struct {
	on   surface
	l    *layout
	x, y int
}

// panel draws one frame.
func (at slot) panel(f *Frame) {
	on, l, x, y := at.on, at.l, at.x, at.y
	if f.Image == nil || f.Image.Bounds().Empty() {
		on.fill(float64(x), float64(y), float64(l.panelW), float64(l.panelH), ground)
		on.text(float64(x)+float64(l.panelW)/2, float64(y)+float64(l.panelH)/2, lettering{1.9 * l.unit, serifItalic, quietInk, centre}, "no photo")
		return
	}
	part := f.part(l.win) // as far as its photo reaches; the paper is left free beside it
	dx, dy, w, h := part.onPx(l.win, l.scale)
	w, h = min(w, l.panelW-dx), min(h, l.panelH-dy)
	m := panel(f, w, h, l.scale, Point{(part.X0 + part.X1) / 2, (part.Y0 + part.Y1) / 2})
	on.picture(x+dx, y+dy, m)
	pixels.Done(m)
	at.lines(f)
}

// lines draws a frame's lines in mm, cut at the panel's edge.
func (at slot) lines(f *Frame) {
	on, l, x, y := at.on, at.l, at.x, at.y
	type named struct {
		at   Point
		text string
	}
	var names []named // written when all lines are drawn, so that none runs through a name
	for _, ln := range f.Lines {
		c, wide := oldRootInk, max(ln.WidthMM*l.scale, thinnest*l.unit)
		if ln.Label != "" {
			c = accentInk
		}
		if ln.New {
			c, wide = accentInk, 1.5*wide // colour is not the only sign
		}
		var run []Point
		var last Point
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
			last = Point{q.X + float64(x), q.Y + float64(y)}
			run = append(run, last)
		}
		flush()
		if ln.Label != "" && last != (Point{}) {
			names = append(names, named{last, ln.Label})
		}
	}
	var labels []Box // that stand already
	for _, n := range names {
		labels = append(labels, at.label(n.at, n.text, labels))
	}
}

// label writes a part's name and size beside the end of its line, on a ground that keeps it legible, within the panel and clear
// of the labels before it.
func (at slot) label(end Point, text string, taken []Box) Box {
	on, l, x, y := at.on, at.l, at.x, at.y
	size := 1.5 * l.unit
	beside := 0.8 * l.unit
	w := on.width(size, sans, text) + beside
	from := min(max(end.X+beside, float64(x)), float64(x+l.panelW)-w)
	above := 0.6 * l.unit
	if from < end.X { // there is no room beside the line's end: clear above it, so that a line across is not hidden
		above = 1.4 * l.unit
	}
	high, low := float64(y)+1.8*l.unit, float64(y+l.panelH)-0.6*l.unit
	base := min(max(end.Y-above, high), low)
	tall := 1.95 * l.unit
	box := Box{from, base - 1.45*l.unit, from + w, base + 0.5*l.unit}
	for _, t := range taken {
		if box.X0 < t.X1 && t.X0 < box.X1 && box.Y0 < t.Y1 && t.Y0 < box.Y1 { // above it, or below where the panel ends
			up := t.Y0 - box.Y1 - 0.2*l.unit
			if box.Y0+up < float64(y) {
				up = t.Y1 - box.Y0 + 0.2*l.unit
			}
			box.Y0, box.Y1 = box.Y0+up, box.Y1+up
		}
	}
	on.fill(box.X0, box.Y0, w, tall, ground)
	on.text(box.X0+0.4*l.unit, box.Y1-0.5*l.unit, lettering{size, sans, darkInk, left}, text)
	return box
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
	on.text(end-long-0.7*u, base, lettering{1.6 * u, sans, darkInk, right}, label)
	return barWidth(on, l)
}

// barWidth is what the scale bar and its words take, and a gap before them.
func barWidth(on surface, l layout) float64 {
	return l.barMM*l.scale + 1.6*l.unit + on.width(1.6*l.unit, sans, fmt.Sprintf("%g mm", l.barMM))
}

// barUnits is the thickness of the scale bar, in units.
const barUnits = 0.5

// caption draws the lines under a panel, the scale bar at the end of the line with the date.
func (at slot) caption(r Row, i int) {
	on, l := at.on, at.l
	x, y, w := float64(at.x), float64(at.y+l.panelH), float64(l.panelW)
	for _, n := range under(on, l, r, i) {
		y += l.lineH
		text, room := n.text, w
		switch {
		case n.bar:
			if r.Frames[i].Image != nil {
				drawBar(on, *l, x+w, y)
			}
			continue
		case n.date != "":
			if r.Frames[i].Image != nil && !l.barBelow {
				drawBar(on, *l, x+w, y)
			}
			text = words.LongDay(n.date)
			if l.shortDates {
				text = words.ShortDay(n.date)
			}
			on.text(x, y, n.lettering, text) // a date is never cut: it has the line for itself if need be
			continue
		}
		on.text(x, y, n.lettering, cut(on, n.size, n.face, text, room))
	}
}

// datesFit says whether all dates have room in full beside their scale bar; if one has not, all are written short.
func datesFit(on surface, l layout, s *Spec) bool {
	for _, r := range s.Rows {
		for i := range r.Frames {
			for _, n := range under(on, &l, r, i) {
				room := float64(l.panelW)
				if !l.barBelow {
					room -= barWidth(on, l)
				}
				if n.date != "" && on.width(n.size, n.face, words.LongDay(n.date)) > room {
					return false
				}
			}
		}
	}
	return true
}

// roomForBar says whether a short date and the scale bar have room in one line under every panel.
func roomForBar(on surface, l layout, s *Spec) bool {
	for _, f := range s.frames() {
		if f.Date != "" && on.width(1.9*l.unit, sansBold, words.ShortDay(f.Date)) > float64(l.panelW)-barWidth(on, l) {
			return false
		}
	}
	return true
}

// cut shortens a text to a width, with an ellipsis.
func cut(on surface, size float64, f face, s string, room float64) string {
	return fonts.Cut(s, room, func(t string) float64 { return on.width(size, f, t) })
}
