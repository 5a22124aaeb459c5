package report

import (
	"fmt"
	"sort"
	"strings"

	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// plantPage is a plant's section.
type plantPage struct {
	Plant    record.Plant
	Name     string
	Portrait *picture
	Lines    []string // group, pot, since when, note
	Marks    []mark
	Views    []viewPage
	Effects  []effectLine
	Links    []Link
	Watch    []look
}

// viewPage is one view of a plant.
type viewPage struct {
	ID, Title     string
	Charts, Extra []*Chart
	Before, After *shot
	Now, More     []nowRow // what is charted or told; what else is measured
	Bases         bases
	Trends        []trendRow
	Sessions      sessionTable
	Notes         []string
	Photos        []photoRow
}

// shot is a photo with what was measured drawn on it.
type shot struct {
	Pic     *picture
	Wall    *picture
	Caption string
	Values  string
}

// nowRow is a quantity's latest value and how it moved against each basis.
type nowRow struct {
	Title, Means, Now, Date string
	Last, Long              cell
}

// bases are the days that most of a table's changes are counted from; they stand in its head, not in every row.
type bases struct{ Last, Long string }

type cell struct {
	Mark, Class, Text, Aside string // the aside goes on behind the text, with its own punctuation
	Since                    string // which day the change is counted from, in words
}

type trendRow struct {
	Title, Phase, Slope, Aside, Growth, MK, Note string
}

type photoRow struct {
	Name, Link, Taken, Status, Mark string
	Reasons                         []string
}

type sessionTable struct {
	Columns []string
	Rows    []sessionRow
}

type sessionRow struct {
	Date, ISO string
	Cells     []string
	Photos    string
	Thumb     *picture
}

// plantPage builds a plant's section.
func (r *renderer) plantPage(p record.Plant) (*plantPage, error) {
	x := r.x
	page := &plantPage{Plant: p, Name: x.title(p.Number), Marks: x.marksOf(p.Number)}
	if p.Group != "" {
		page.Lines = append(page.Lines, "Group "+p.Group)
	}
	if pot := x.potNow(p); pot.Known() {
		page.Lines = append(page.Lines, fmt.Sprintf("clear pot %g to %g mm across, %g mm high", pot.TopMM, pot.BottomMM, pot.HeightMM))
	}
	if p.From != "" {
		page.Lines = append(page.Lines, "here since "+longDay(p.From))
	}
	if p.Until != "" {
		page.Lines = append(page.Lines, "until "+longDay(p.Until))
	}
	for _, v := range []record.View{record.Leaf, record.Root} {
		k := viewKey{p.Number, v}
		if len(x.views[k]) == 0 && len(x.photos[k]) == 0 {
			continue
		}
		vp, face, err := r.viewPage(k, page.Marks)
		if err != nil {
			return nil, err
		}
		page.Views = append(page.Views, *vp)
		if page.Portrait == nil {
			page.Portrait = face
		}
	}
	page.Effects = x.effectsOf(p.Number)
	for _, l := range x.d.Links {
		if l.Plant == p.Number {
			page.Links = append(page.Links, l)
		}
	}
	all, _ := x.needsLook()
	for _, l := range all {
		if l.Plant == p.Number {
			page.Watch = append(page.Watch, l)
		}
	}
	return page, nil
}

// potNow is the pot that the plant stands in at the period's end.
func (x *index) potNow(p record.Plant) record.Pot {
	pot := p.Pot
	for _, e := range x.events[p.Number] {
		if e.Pot.Known() {
			pot = e.Pot
		}
	}
	return pot
}

func (r *renderer) viewPage(k viewKey, marks []mark) (*viewPage, *picture, error) {
	x := r.x
	v := &viewPage{ID: fmt.Sprintf("p%d-%s", k.plant, k.view), Title: viewWords(k.view)}
	var err error
	if v.Charts, v.Extra, err = x.charts(k, marks, r.extra); err != nil {
		return nil, nil, err
	}
	face := r.addShots(v, k)
	for _, name := range x.views[k] {
		if row, ok := x.nowRow(k, name); ok {
			if headline[name] {
				v.Now = append(v.Now, row)
			} else {
				v.More = append(v.More, row)
			}
		}
	}
	v.Bases = settleBases(v.Now, v.More)
	v.Trends = x.trendRows(k)
	v.Sessions = r.sessionTable(k)
	v.Photos = r.photoRows(k)
	if c := x.counted(k); len(c) > 0 {
		v.Notes = c[len(c)-1].Notes
	}
	return v, face, nil
}

// addShots puts the first and the latest counted photo side by side and gives the portrait.
func (r *renderer) addShots(v *viewPage, k viewKey) (face *picture) {
	c := r.x.counted(k)
	if len(c) == 0 {
		return nil
	}
	first, last := c[0], c[len(c)-1]
	v.After = r.shot(last, k)
	if first.Taken.Day() != last.Taken.Day() {
		v.Before = r.shot(first, k)
	}
	return r.pics.portrait(r.pics.outlined(last), 176, fmt.Sprintf("Portrait of plant %d, %s", k.plant, r.x.title(k.plant)), "plain", "overlay")
}

// shot is one photo with its outline and, of roots, the unrolled wall.
func (r *renderer) shot(p *record.Photo, k viewKey) *shot {
	main := "leaf_area"
	if k.view == record.Root {
		main = "root_length"
	}
	s := &shot{Caption: longDay(p.Taken.Day())}
	if q, ok := p.Find(main); ok {
		i := quantity.Of(main, q.Unit)
		s.Values = i.Title + " " + i.Value(q.Value, q.U95)
	}
	alt := fmt.Sprintf("Plant %d, %s, on %s: the photo with the measured outline drawn on it. %s.", k.plant, strings.ToLower(viewWords(k.view)), s.Caption, upperFirst(s.Values))
	s.Pic = r.pics.shown(p, alt, "overlay", "plain")
	if k.view == record.Root && r.extra {
		s.Wall = r.pics.shown(p, fmt.Sprintf("The pot's wall unrolled on %s, roots drawn.", s.Caption), "wall_overlay", "wall")
	}
	if s.Pic == nil && s.Wall == nil {
		return nil
	}
	return s
}

// nowRow is the latest value with its change since last session and on the longest basis there is.
func (x *index) nowRow(k viewKey, name string) (nowRow, bool) {
	s, ok := x.last(seriesKey{k.plant, k.view, name})
	if !ok {
		return nowRow{}, false
	}
	q := quantity.Of(name, s.Unit)
	row := nowRow{Title: q.Title, Means: q.Means, Now: q.Value(s.Value, s.U95), Date: shortDay(s.Date)}
	row.Last = x.cell(k, name, record.BasisLast)
	for _, b := range []string{record.BasisEvent, record.BasisYear, record.BasisBaseline} {
		if c := x.cell(k, name, b); c.Text != "" {
			row.Long = c
			break
		}
	}
	return row, true
}

func (x *index) cell(k viewKey, name, basis string) cell {
	c, ok := x.change(k, name, basis)
	if !ok {
		return cell{}
	}
	l := newLine(c)
	out := cell{Mark: l.Mark, Class: l.Class, Text: l.Delta}
	if l.Since != "" {
		out.Since = "since " + l.Since
	}
	if c.Event != "" {
		day, kind, _ := strings.Cut(c.Event, " ")
		out.Since = "since " + strings.TrimSpace(kindNoun(kind)+" of "+shortDay(day))
	}
	if l.Percent != "" {
		out.Aside = " (" + l.Percent + ")"
	}
	if c.Verdict == record.NoChange && l.Smallest != "" {
		out.Aside += ", detectable from " + l.Smallest
	}
	if c.Verdict == record.TooFew {
		out.Text = string(record.TooFew)
	}
	return out
}

// settleBases takes the first day that a column is counted from for its head, and leaves it to the rows that differ.
func settleBases(tables ...[]nowRow) bases {
	var b bases
	for _, column := range []struct {
		head *string
		cell func(*nowRow) *cell
	}{{&b.Last, func(r *nowRow) *cell { return &r.Last }}, {&b.Long, func(r *nowRow) *cell { return &r.Long }}} {
		for _, rows := range tables {
			for i := range rows {
				c := column.cell(&rows[i])
				if *column.head == "" {
					*column.head = c.Since
				}
				if c.Since != "" && c.Since != *column.head {
					c.Aside += ", " + c.Since
				}
			}
		}
	}
	return b
}

func (r *renderer) photoRows(k viewKey) []photoRow {
	var out []photoRow
	for _, p := range r.x.photos[k] {
		if !r.x.d.inPeriod(p.Taken.Day()) {
			continue
		}
		row := photoRow{Name: p.Name, Taken: p.Taken.String(), Status: string(p.Status), Mark: "●"}
		if r.x.d.PhotoLink != nil {
			row.Link = r.x.d.PhotoLink(*p)
		}
		switch p.Status {
		case record.Flagged:
			row.Mark = "◐"
		case record.Rejected:
			row.Mark = "✕"
		}
		for _, why := range p.Reasons {
			row.Reasons = append(row.Reasons, gate.Text(why))
		}
		out = append(out, row)
	}
	return out
}

// sessionTable lists every session with the charted quantities.
func (r *renderer) sessionTable(k viewKey) sessionTable {
	var t sessionTable
	var names []string
	dates := map[string]bool{}
	for _, c := range chartPlan[k.view] {
		for _, n := range c.names {
			if ss := r.x.series[seriesKey{k.plant, k.view, n}]; (c.isMain || r.extra) && len(ss) > 0 {
				names = append(names, n)
				q := quantity.Of(n, ss[0].Unit)
				t.Columns = append(t.Columns, q.Title)
				for _, s := range ss {
					dates[s.Date] = true
				}
			}
		}
	}
	var days []string
	for d := range dates {
		days = append(days, d)
	}
	sort.Strings(days)
	for _, d := range days {
		row := sessionRow{Date: shortDay(d), ISO: d, Cells: make([]string, len(names))}
		for i, n := range names {
			row.Cells[i] = "–"
			for _, s := range r.x.series[seriesKey{k.plant, k.view, n}] {
				if s.Date == d {
					row.Cells[i] = quantity.Of(n, s.Unit).Value(s.Value, s.U95)
					row.Photos = photosWords(s.Names, s.Photos)
				}
			}
		}
		if r.thumbs {
			row.Thumb = r.thumb(k, d)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// thumb is the small photo of a session.
func (r *renderer) thumb(k viewKey, date string) *picture {
	for _, p := range r.x.counted(k) {
		if p.Taken.Day() == date {
			return r.pics.portrait(p, 132, fmt.Sprintf("Plant %d on %s", k.plant, longDay(date)), "overlay", "plain")
		}
	}
	return nil
}
