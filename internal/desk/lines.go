package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"sync"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/digest"
	"phototrack/internal/pipeline"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// partsAnswer is what the photo page shows of parts: those of the plant, the lines on this photo, the lines of the photo before
// as proposals, and counts of the day.
type partsAnswer struct {
	Plant     int           `json:"plant"`
	Day       string        `json:"day"`
	Parts     []record.Part `json:"parts"`
	Kinds     []string      `json:"kinds"`
	Lines     []drawnLine   `json:"lines"`
	Proposals []proposal    `json:"proposals"`
	From      string        `json:"from"` // day of the photo that they come from, in words
	Counts    []countCell   `json:"counts"`
	Trouble   string        `json:"trouble,omitempty"` // why nothing can be measured here
	Hint      string        `json:"hint,omitempty"`
	Next      *nextPhoto    `json:"next,omitempty"` // the next photo of the month on which lines wait
}

// nextPhoto is where the month's round of parts goes on.
type nextPhoto struct {
	SHA   string `json:"sha"`
	Title string `json:"title"`
	Left  int    `json:"left"` // photos that wait, this one left out
}

// nextWaiting is the photo after this one, by plant, on which lines of its month wait; nil for none.
func (s *snapshot) nextWaiting(p *record.Photo) *nextPhoto {
	day := p.Taken.Day()
	if len(day) < 7 {
		return nil
	}
	m, _, err := s.month(day[:7])
	if err != nil {
		return nil
	}
	var out *nextPhoto
	left := 0
	var first, after *digest.LinesWait
	for i := range m.digest.Waits {
		w := &m.digest.Waits[i]
		if w.SHA256 == p.SHA256 {
			continue
		}
		left++
		if first == nil {
			first = w
		}
		if after == nil && w.Plant > p.Plant {
			after = w
		}
	}
	if after == nil {
		after = first
	}
	if after != nil {
		title := "plant " + itoa(after.Plant)
		if after.Name != "" {
			title = itoa(after.Plant) + " " + after.Name
		}
		out = &nextPhoto{after.SHA256, title, left}
	}
	return out
}

// drawnLine is a line with what it measures, in words.
type drawnLine struct {
	Line  collection.Line `json:"line"`
	Who   string          `json:"who"`
	When  string          `json:"when"`
	Texts []string        `json:"texts"`
	Curve [][2]float64    `json:"curve"`
	Found float64         `json:"found"`
	Error string          `json:"error,omitempty"`
}

type proposal struct {
	drawnLine
	Before []string `json:"before"` // what it measured on the photo before
	Sure   bool     `json:"sure"`
	Why    string   `json:"why,omitempty"`
}

type countCell struct {
	What   string `json:"what"`
	Count  string `json:"count"`  // of this day, "" where none was typed
	Before string `json:"before"` // the one before it
}

// lineTables keeps a few photos open for lines: opening one takes about as long as measuring it.
type lineTables struct {
	mu    sync.Mutex
	open  map[string]*openTable
	order []string
}

type openTable struct {
	once  sync.Once
	table *pipeline.LineTable
	err   error
}

const keptTables = 4

// tableKey is all that a photo's calibration rests on; lines drawn on it change nothing of that.
func tableKey(c *collection.Collection, p *record.Photo) string {
	day := p.Taken.Day()
	return fmt.Sprint(p.SHA256, c.Settings.Measurement, c.Settings.Parts, c.CardAt(day), c.OverrideFor(p.SHA256, p.Name), c.PotAt(p.Plant, day), p.Plant, p.View)
}

// lineTable lays a photo open.
func (d *Desk) lineTable(s *snapshot, p *record.Photo) (*pipeline.LineTable, error) {
	key := tableKey(s.c, p)
	t := &d.tables
	t.mu.Lock()
	o := t.open[key]
	if o == nil {
		o = &openTable{}
		if t.open == nil {
			t.open = map[string]*openTable{}
		}
		t.open[key] = o
		t.order = append(t.order, key)
		if len(t.order) > keptTables {
			delete(t.open, t.order[0])
			t.order = t.order[1:]
		}
	}
	t.mu.Unlock()
	o.once.Do(func() {
		path, ok := s.c.Original(p)
		if !ok {
			path = p.Path
		}
		data, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			err = errors.New("the original of this photo is not where it was, so nothing can be measured on it")
		}
		if err == nil {
			o.table, err = pipeline.OpenLines(data, p, s.c)
		}
		o.err = err
	})
	return o.table, o.err
}

// texts are quantities in words: "length 134 ± 5 mm".
func texts(list []record.Quantity) (out []string) {
	for _, q := range list {
		k := quantity.Of(q.Name, q.Unit)
		out = append(out, k.Title+" "+k.Value(q.Value, q.U95))
	}
	return
}

func measuredLine(t *pipeline.LineTable, l collection.Line) drawnLine {
	out := drawnLine{Line: l, Curve: l.Points}
	m, err := t.Measure(&l)
	if err != nil {
		out.Error = err.Error()
		return out
	}
	out.Texts, out.Curve, out.Found = texts(m.Quantities), m.Curve, m.Found
	return out
}

// partsOf answers with all that the photo page shows of parts.
func (d *Desk) partsOf(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	a := partsAnswer{Plant: p.Plant, Day: p.Taken.Day(), Kinds: record.PartKinds(), Parts: []record.Part{}, Lines: []drawnLine{}, Proposals: []proposal{}}
	for _, q := range s.c.PartsOf(p.Plant) {
		if !q.Gone(a.Day) {
			a.Parts = append(a.Parts, q)
		}
	}
	a.Counts = countsFor(s.c, p.Plant, a.Day)
	a.Next = s.nextWaiting(p)
	t, err := d.lineTable(s, p)
	if err != nil {
		a.Trouble = err.Error()
	}
	have := map[string]bool{}
	for _, m := range collection.Lines(s.c.MarksFor(p.SHA256)) {
		l := drawnLine{Line: *m.Line, Curve: m.Line.Points, Error: a.Trouble}
		if t != nil {
			l = measuredLine(t, *m.Line)
		}
		l.Who, l.When = m.Who, m.When
		a.Lines = append(a.Lines, l)
		for _, q := range m.Line.Measure {
			have[partKey(m.Line.Part, q)] = true
		}
	}
	if t != nil && r.URL.Query().Get("proposals") != "no" {
		d.propose(&a, s, p, t, have)
	}
	writeJSON(w, http.StatusOK, a)
	return nil
}

func partKey(part, measure string) string { return fmt.Sprintf("%q %s", part, measure) }

// propose carries the lines of the latest earlier photo of the view that has some.
func (d *Desk) propose(a *partsAnswer, s *snapshot, p *record.Photo, t *pipeline.LineTable, have map[string]bool) {
	list := s.of(p.Plant, p.View)
	at := -1
	for i, q := range list {
		if q.SHA256 == p.SHA256 {
			at = i
		}
	}
	for i := at - 1; i >= 0 && p.Plant > 0; i-- {
		before := list[i]
		var lines []collection.Line
		for _, m := range collection.Lines(s.c.MarksFor(before.SHA256)) {
			q, listed := s.c.Part(p.Plant, m.Line.Part)
			if m.Line.Check() == nil && listed && !q.Gone(a.Day) && !have[partKey(m.Line.Part, m.Line.Measure[0])] {
				lines = append(lines, *m.Line)
			}
		}
		if len(collection.Lines(s.c.MarksFor(before.SHA256))) == 0 {
			continue
		}
		a.From = words.LongDay(before.Taken.Day())
		if len(lines) == 0 {
			return
		}
		old, err := d.lineTable(s, before)
		if err != nil {
			a.Hint = "The photo of " + a.From + " cannot be compared: " + err.Error() + "."
			return
		}
		for k, c := range t.Carry(old, lines) {
			q := proposal{Sure: c.Sure, Why: c.Why, Before: measuredLine(old, lines[k]).Texts}
			q.drawnLine = drawnLine{Line: c.Line, Texts: texts(c.Is.Quantities), Curve: c.Is.Curve, Found: c.Is.Found}
			a.Proposals = append(a.Proposals, q)
		}
		return
	}
}

// countsFor are the cells for counts: what was counted before on this plant, and the usual words where nothing was.
func countsFor(c *collection.Collection, plant int, day string) []countCell {
	var out []countCell
	at := map[string]int{}
	cell := func(what string) *countCell {
		i, ok := at[what]
		if !ok {
			i = len(out)
			at[what] = i
			out = append(out, countCell{What: what})
		}
		return &out[i]
	}
	for _, k := range c.CountsOf(plant) {
		switch {
		case k.Date == day:
			cell(k.What).Count = itoa(k.Count)
		case k.Date < day:
			cell(k.What).Before = itoa(k.Count)
		}
	}
	for _, w := range collection.CountWords() {
		cell(w)
	}
	return out
}

// tryLine measures a line that is being drawn; nothing is kept.
func (d *Desk) tryLine(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var l collection.Line
	if err := json.NewDecoder(r.Body).Decode(&l); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	t, err := d.lineTable(s, p)
	if err != nil {
		return &fault{http.StatusUnprocessableEntity, err}
	}
	writeJSON(w, http.StatusOK, measuredLine(t, l))
	return nil
}

// saveDrawnLines replaces the lines of a photo by those sent; its areas stay. The photo is measured in the background, the answer
// says at once what the lines come to.
func (d *Desk) saveDrawnLines(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var in struct {
		Lines []collection.Line `json:"lines"`
	}
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	who, when := writer(), time.Now().Format(time.RFC3339)
	old := collection.Lines(s.c.MarksFor(p.SHA256))
	var marks []collection.Mark
	for i := range in.Lines {
		l := in.Lines[i]
		m := collection.Mark{What: collection.MarkLine, Who: who, When: when, Line: &l}
		kept := false
		for _, o := range old { // a line that was there stays as it was, with who drew it
			if sameLine(*o.Line, l) {
				m, kept = o, true
			}
		}
		if !kept {
			if err := l.Check(); err != nil {
				return &fault{http.StatusUnprocessableEntity, fmt.Errorf("the line for %s: %w", l.Part, err)}
			}
			if _, ok := s.c.Part(p.Plant, l.Part); !ok {
				return bad(http.StatusUnprocessableEntity, fmt.Sprintf("plant %d has no part %q", p.Plant, l.Part), "Make the part first.")
			}
		}
		marks = append(marks, m)
	}
	err := d.change(func(c *collection.Collection) error {
		return c.SaveMarks(p.SHA256, p.Name, append(collection.Areas(c.MarksFor(p.SHA256)), marks...))
	})
	if err != nil {
		return err
	}
	photo := p
	d.job.start(task{name: "lines " + p.SHA256, do: func(ctx context.Context) error {
		d.job.plan(1)
		return d.remeasure(ctx, []*record.Photo{photo}, d.job.done)
	}})
	var out []drawnLine
	if t, err := d.lineTable(s, p); err == nil {
		for _, m := range marks {
			l := measuredLine(t, *m.Line)
			l.Who, l.When = m.Who, m.When
			out = append(out, l)
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"lines": out})
	return nil
}

func sameLine(a, b collection.Line) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && string(x) == string(y)
}

// addPart makes a part of the photo's plant.
func (d *Desk) addPart(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var in struct{ Part, Kind, From string }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	err := d.change(func(c *collection.Collection) error {
		return c.AppendPart(record.Part{Plant: p.Plant, Part: in.Part, Kind: in.Kind, From: in.From})
	})
	if err != nil {
		return &fault{http.StatusUnprocessableEntity, err}
	}
	writeJSON(w, http.StatusOK, map[string]any{})
	return nil
}

// partGone writes down that a part is no longer there: its last day is that of the last photo with a line on it.
func (d *Desk) partGone(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var in struct{ Part string }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	last := ""
	for _, q := range s.of(p.Plant, p.View) {
		for _, m := range collection.Lines(s.c.MarksFor(q.SHA256)) {
			if record.SamePart(m.Line.Part, in.Part) && q.Taken.Day() < p.Taken.Day() {
				last = q.Taken.Day()
			}
		}
	}
	if last == "" {
		return bad(http.StatusUnprocessableEntity, "no earlier photo has a line on this part", "Write its last day into parts.csv.")
	}
	err := d.change(func(c *collection.Collection) error {
		return c.ChangePart(c.Version(collection.PartsFile), p.Plant, in.Part, collection.PartChange{Until: &last}, "not there on "+p.Name)
	})
	if err != nil {
		return &fault{http.StatusUnprocessableEntity, err}
	}
	writeJSON(w, http.StatusOK, map[string]any{"until": last})
	return nil
}

// setCount writes down how many there are on the photo's day.
func (d *Desk) setCount(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var in struct{ What, Count string }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	err := d.change(func(c *collection.Collection) error { return c.SetCount(p.Taken.Day(), p.Plant, in.What, in.Count, "") })
	if err != nil {
		return &fault{http.StatusUnprocessableEntity, err}
	}
	writeJSON(w, http.StatusOK, map[string]any{})
	return nil
}
