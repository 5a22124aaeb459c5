package digest

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// Cell is a comparison in the words that a page shows.
type Cell struct {
	Mark  string // an arrow, or the sign of no change
	Class string // went-up, went-down, same, few, moved
	Text  string // "+36 ± 4 %", "no change"
	Aside string // "+77 ± 8 cm²" beside a percentage; "would show from 3 points" beside no change
	Since string // "since 7 Mar 2026", "since the repot of 18 Apr 2026"
}

// CellOf puts a comparison into words; the zero Cell for nil.
func CellOf(c *record.Change) Cell {
	if c == nil {
		return Cell{}
	}
	q := quantity.OfPart(c.Quantity, c.Part, c.Unit)
	out := Cell{Since: Since(c)}
	out.Mark, out.Class = words.Arrow(c.Verdict)
	switch {
	case c.Verdict == record.TooFew || math.IsNaN(c.Change):
		out.Text = "too few photos"
	case c.Verdict == record.NoChange:
		out.Text = "no change"
		if c.SmallestDetectable > 0 {
			out.Aside = "would show from " + q.Size(c.SmallestDetectable)
		}
	case pairwise[c.Quantity]:
		out.Text = q.Value(math.Abs(c.Change), c.U95)
		if c.Quantity != record.RootNew {
			out.Mark, out.Class = "≠", "moved"
		}
	default:
		out.Text = q.Delta(c.Change, c.U95)
		if p, ok := q.Percent(c.FromValue, c.Change, c.U95); ok {
			out.Text, out.Aside = p, out.Text
			if c.Part != "" { // of one spike or organ its millimetres are known by heart
				out.Text, out.Aside = out.Aside, out.Text
			}
		}
	}
	return out
}

// pairwise are the quantities that are measured on two photos together: there is so much of them, they neither rise
// nor fall.
var pairwise = map[record.QuantityName]bool{record.RootNew: true, record.RootGone: true, record.ColourChange: true}

// Since says from when a comparison counts.
func Since(c *record.Change) string {
	day := words.UnbrokenDay(c.FromDate)
	switch c.Basis {
	case record.BasisEvent:
		on, kind, _ := strings.Cut(c.Event, " ")
		return "since " + words.EventNoun(kind) + " of " + words.UnbrokenDay(on)
	case record.BasisBaseline:
		return "since the start, " + day
	case record.BasisYear:
		return "in a year, since " + day
	}
	return "since " + day
}

// Title is what a line is about: "leaf area".
func (l *Line) Title() string { return quantity.OfPart(l.Quantity, l.Part, l.Unit).Title }

// LastCell is the change since the photos before.
func (l *Line) LastCell() Cell { return CellOf(l.Last) }

// LongCell is the change over the longer time.
func (l *Line) LongCell() Cell { return CellOf(l.Long) }

// LongIsSurer says that the longer span shows the change more surely.
func (l *Line) LongIsSurer() bool { return l.Long != nil && l.Surer() == l.Long }

// Now is the latest value, "" where it has none of its own.
func (l *Line) Now() string {
	c := l.Surer()
	if c == nil || pairwise[l.Quantity] {
		return ""
	}
	return quantity.OfPart(l.Quantity, l.Part, l.Unit).Bare(c.ToValue, c.U95)
}

// Then is the value that the surer span counts from.
func (l *Line) Then() string {
	c := l.Surer()
	if c == nil || pairwise[l.Quantity] {
		return ""
	}
	return quantity.OfPart(l.Quantity, l.Part, l.Unit).Bare(c.FromValue, c.U95)
}

// HowSure tells the statistics of a line in a sentence or two, for those who ask.
func (l *Line) HowSure() string {
	c := l.Surer()
	if c == nil {
		return ""
	}
	q := quantity.OfPart(l.Quantity, l.Part, l.Unit)
	s := fmt.Sprintf("%s: the change %s is %s times as large as its uncertainty", words.Upper(q.Title), Since(c), quantity.Number(Times(c), 1))
	if c.SmallestDetectable > 0 && !pairwise[l.Quantity] {
		s += fmt.Sprintf("; one of %s or more would have been seen", q.Size(c.SmallestDetectable))
	}
	s += "."
	if !math.IsNaN(c.Q) && c.Q > 0 {
		s += " Of all changes that stand out at least as much, " + share(c.Q) + " should be chance (false discovery rate q " + probability(c.Q) + ")."
	}
	return s
}

// share puts a false discovery rate into words.
func share(q float64) string {
	switch {
	case q < 0.001: // bounds as they are said
		return "less than 1 in 1000"
	case q < 0.01: // as they are said
		return "less than 1 in 100"
	case q < 0.5: // else "1 in 1"
		return "about 1 in " + quantity.Number(math.Round(1/q), 0)
	}
	return "many"
}

func probability(p float64) string {
	if p < 0.001 { // no more digits than are said
		return "below 0.001"
	}
	return quantity.Number(p, 3)
}

// Sentence tells a line of a plant for a terminal: "Clivia A (12): leaf area +36 ± 4 % since the start, 7 Mar 2026; +9 ±
// 3 % since 13 Jun 2026."
func (p *Plant) Sentence(l *Line) string {
	who := fmt.Sprintf("Plant %d", p.Number)
	if p.Name != "" {
		who = fmt.Sprintf("%s (%d)", p.Name, p.Number)
	}
	first, second := CellOf(l.Surer()), Cell{}
	if l.Surer() == l.Long {
		second = CellOf(l.Last)
	} else {
		second = CellOf(l.Long)
	}
	s := fmt.Sprintf("%s: %s %s %s", who, l.Title(), first.Text, first.Since)
	if second.Text != "" {
		s += "; " + second.Text + " " + second.Since
	}
	return s + "."
}
