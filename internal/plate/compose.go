package plate

import (
	"fmt"
	"math"

	"phototrack/internal/fonts"
	"phototrack/internal/pixels"
)

// compose lays the plate out on a surface.
func compose(s *Spec, l layout, on surface) {
	w := s.filled(l.scaleWords)
	u, room := l.unit, l.w-2*l.margin
	size := titleSize(on, u, w.Title, room)
	on.text(l.margin, l.margin+3.6*u, size, serif, darkInk, left, cut(on, size, serif, w.Title, room))
	for i, line := range captionLines(on, &l, w.Caption) {
		on.text(l.margin, l.margin+(6.9+captionPitch*float64(i))*u, captionUnits*u, serifItalic, quietInk, left, line)
	}
	l.shortDates = !datesFit(on, l, s)
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
	on.text(l.w-l.margin, l.h-l.margin, 1.5*u, sans, quietInk, right, cut(on, 1.5*u, sans, w.Foot, room))
}

// titleSize is the title's size, made smaller, down to three quarters, for one that is too long; a longer one is cut.
func titleSize(on surface, u float64, title string, room float64) float64 {
	const full, least = titleUnits, 0.75 * titleUnits
	w := on.width(full*u, serif, fonts.Clean(title))
	if w <= room {
		return full * u
	}
	return max(least, full*0.99*room/w) * u
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

// drawPanel draws one frame.
func drawPanel(on surface, l layout, f *Frame, x, y int) {
	if f.Image == nil || f.Image.Bounds().Empty() {
		on.fill(float64(x), float64(y), float64(l.panelW), float64(l.panelH), ground)
		on.text(float64(x)+float64(l.panelW)/2, float64(y)+float64(l.panelH)/2, 1.9*l.unit, serifItalic, quietInk, centre, "no photo")
		return
	}
	m := panel(f, l.panelW, l.panelH, l.scale, l.centre)
	on.picture(x, y, m)
	pixels.Done(m)
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
	return barWidth(on, l)
}

// barWidth is what the scale bar and its words take, and a gap before them.
func barWidth(on surface, l layout) float64 {
	return l.barMM*l.scale + 1.6*l.unit + on.width(1.6*l.unit, sans, fmt.Sprintf("%g mm", l.barMM))
}

// barUnits is the thickness of the scale bar, in units.
const barUnits = 0.5

// drawCaption draws the lines under a panel, the scale bar at the end of the line with the date.
func drawCaption(on surface, l layout, r Row, i int, x, y float64) {
	u, w := l.unit, float64(l.panelW)
	for _, n := range under(on, u, r, i, w) {
		y += l.lineH
		text, room := n.text, w
		if n.date != "" {
			if r.Frames[i].Image != nil {
				room -= drawBar(on, l, x+w, y)
			}
			text = dayWords(n.date)
			if l.shortDates {
				text = shortDayWords(n.date)
			}
		}
		on.text(x, y, n.size, n.face, n.ink, left, cut(on, n.size, n.face, text, room))
	}
}

// datesFit says whether all dates have room in full beside their scale bar; if one has not, all are written short.
func datesFit(on surface, l layout, s *Spec) bool {
	for _, r := range s.Rows {
		for i := range r.Frames {
			for _, n := range under(on, l.unit, r, i, float64(l.panelW)) {
				if n.date != "" && on.width(n.size, n.face, dayWords(n.date)) > float64(l.panelW)-barWidth(on, l) {
					return false
				}
			}
		}
	}
	return true
}

// cut shortens a text to a width, with an ellipsis.
func cut(on surface, size float64, f face, s string, room float64) string {
	return fonts.Cut(s, room, func(t string) float64 { return on.width(size, f, t) })
}
