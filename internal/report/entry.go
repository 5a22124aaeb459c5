package report

import (
	"fmt"
	"html/template"
	"strings"

	"phototrack/internal/chart"
	"phototrack/internal/digest"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// entry is a plant that changed as the first screen tells it.
type entry struct {
	Plant     int
	Name      string
	Href      string
	Then, Now *crop
	Spark     template.HTML
	Lines     []entryLine
	More      int // lines that stand on the plant's page only
	LastHead  string
	LongHead  string
	Sure      []string
}

// entryLine is one quantity with its two spans.
type entryLine struct {
	Title      string
	Last, Long digest.Cell
	LongSurer  bool
}

// linesShown is how many quantities of a plant the first screen tells.
const linesShown = 3

// entries are the plants that changed, the surest first.
func (x *index) entries() []entry {
	var out []entry
	for i := range x.digest.Plants {
		out = append(out, x.entryOf(&x.digest.Plants[i]))
	}
	return out
}

func (x *index) entryOf(p *digest.Plant) entry {
	e := entry{Plant: p.Number, Name: x.title(p.Number), Href: plantFile(p.Number)}
	for i := range p.Lines {
		l := &p.Lines[i]
		if i == linesShown || i > 0 && l.Abstract() {
			e.More = len(p.Lines) - i
			break
		}
		n := entryLine{Title: l.Title(), Last: l.LastCell(), Long: l.LongCell(), LongSurer: l.LongIsSurer()}
		heads(&e.LastHead, &n.Last)
		heads(&e.LongHead, &n.Long)
		e.Lines = append(e.Lines, n)
		e.Sure = append(e.Sure, l.HowSure())
	}
	for i := range p.Lines { // what is measured on two photos together, such as new root, has no series of its own
		l := &p.Lines[i]
		if e.Spark = x.spark(partKey{seriesKey{p.Number, l.View, l.Quantity}, l.Part}); e.Spark != "" {
			break
		}
	}
	return e
}

// heads puts the day that a column counts from into its head, and leaves it beside what counts from another.
func heads(head *string, c *digest.Cell) {
	switch {
	case c.Text == "":
	case *head == "":
		*head, c.Since = c.Since, ""
	case c.Since == *head:
		c.Since = ""
	}
}

// spark is the small line of a series.
func (x *index) spark(k partKey) template.HTML {
	q := quantity.OfPart(k.quantity, k.part, "")
	sessions := x.series[k.seriesKey]
	if k.part != "" {
		sessions = x.parts[k]
	}
	s := chart.Spark{Points: pointsOf(k.seriesKey, sessions, false).Points, Words: fmt.Sprintf("%s of plant %d over time", words.Upper(q.Title), k.plant)}
	if n := len(s.Points); n > 1 {
		s.Words += fmt.Sprintf(": %s to %s", s.Points[0].Words, s.Points[n-1].Words)
	}
	for _, m := range x.marksOf(k.plant) {
		s.Marks = append(s.Marks, m.At)
	}
	return template.HTML(s.SVG())
}

// pairOf names the two photos that stand for what changed of a plant.
func (x *index) pairOf(plant int, view record.View) (then, now *record.Photo) {
	return x.digest.Pair(plant, view, x.counted(viewKey{plant, view}))
}

// plantFile is a plant's page, from the report's folder.
func plantFile(n int) string { return fmt.Sprintf("plants/%03d.html", n) }

// leadView is the view that a plant's pictures show first.
func (x *index) leadView(plant int) record.View {
	return x.digest.LeadView(plant, len(x.counted(viewKey{plant, record.Leaf})) > 0 || len(x.counted(viewKey{plant, record.Root})) == 0)
}

// fromPlants is an address beside the report as a plant's page, a folder below, names it.
func fromPlants(href string) string {
	if href == "" || strings.Contains(href, ":") || strings.HasPrefix(href, "/") {
		return href
	}
	return "../" + href
}
