package plate

import (
	"image/color"
	"strings"

	"phototrack/internal/fonts"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// note is a line under a panel.
type note struct {
	text string
	date string // of the line that holds the date, and the scale bar at its end
	bar  bool   // the line holds the scale bar alone
	lettering
}

// under gives the lines under a panel: whose it is on a sheet of many, the date, the values, and what was done since the
// frame before. What is too long for a panel's width goes on in a second line.
func under(on surface, l *layout, r Row, i int) []note {
	u, f := l.unit, r.Frames[i]
	var out []note
	put := func(text string, size float64, fc face, ink color.NRGBA) {
		for _, t := range fonts.Wrap(text, 2, float64(l.panelW), func(t string) float64 { return on.width(size, fc, t) }) {
			out = append(out, note{text: t, lettering: lettering{size, fc, ink, left}})
		}
	}
	weight, ink := sansBold, darkInk
	if f.Head != "" {
		put(f.Head, 2.1*u, sansBold, darkInk)
		weight, ink = sans, quietInk
	}
	out = append(out, note{date: f.Date, lettering: lettering{1.9 * u, weight, ink, left}})
	if l.barBelow {
		out = append(out, note{bar: true})
	}
	for _, v := range f.Values {
		put(together(v), 1.8*u, sans, darkInk)
	}
	for _, e := range between(r, i) {
		put(e, 1.8*u, serifItalic, accentDark)
	}
	return out
}

// together keeps a value, its interval and their unit on one line.
func together(v string) string { return strings.ReplaceAll(v, " ± ", "\u00a0±\u00a0") }

// mostLines is the most lines that stand under any panel.
func mostLines(s *Spec, ruler surface, l *layout) int {
	most := 1
	for _, r := range s.Rows {
		for i := range r.Frames {
			most = max(most, len(under(ruler, l, r, i)))
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
	out := []string{"since: " + e.Kind + ", " + words.LongDay(e.Date)}
	if e.Note != "" {
		out = append(out, e.Note)
	}
	return out
}

// dayThatFits writes a date in full where there is room, else with its month cut short.
func dayThatFits(on surface, size float64, date string, room float64) string {
	if full := words.LongDay(date); on.width(size, sansBold, full) <= room {
		return full
	}
	return words.ShortDay(date)
}
