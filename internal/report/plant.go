package report

import (
	"fmt"
	"maps"
	"slices"

	"phototrack/internal/digest"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// plantPage is a plant's section.
type plantPage struct {
	Plant     record.Plant
	Name      string
	Href      string
	Entry     *entry   // what changed, nil for nothing
	First     *crop    // the plant in small, where the first screen shows it
	Lines     []string // group, pot, since when, note
	Marks     []mark
	Views     []*viewPage
	Lead      *viewPage    // the view that the index shows of it, nil where it shows none
	Front     *Chart       // the chart that the index shows of it: of what changed most surely
	Parts     *PartSection // nil where no part is followed
	partLeads bool
	Effects   []effectLine
	Links     []Link
	Watch     []digest.Look
}

// viewPage is one view of a plant.
type viewPage struct {
	ID, Title     string
	Charts, Extra []*Chart
	Pair          pair     // the plant then and now
	Before, After *shot    // the pot's wall
	Now, More     []nowRow // what is charted or told; what else is measured
	Bases         bases
	Trends        []trendRow
	Sessions      sessionTable
	Notes         []string
	Photos        []photoRow
}

// shot is a picture with its day.
type shot struct {
	Pic     *picture
	Caption string
}

// nowRow is a quantity's latest value and how it moved against each basis.
type nowRow struct {
	Title, Means, Now, Date string
	Last, Long, Event       digest.Cell
	HasEvent                bool // the table has a column for what changed since an event
}

// bases are the days that most of a table's changes are counted from; they stand in its head, not in every row.
type bases struct{ Last, Long, Event string }

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
	page := &plantPage{Plant: p, Name: x.title(p.Number), Href: plantFile(p.Number), Marks: x.marksOf(p.Number), Lines: x.aboutPlant(p)}
	if d, ok := x.digest.Plant(p.Number); ok {
		e := x.entryOf(&d)
		page.Entry, page.partLeads = &e, d.Lead().Part != ""
	}
	for _, v := range []record.View{record.Leaf, record.Root} {
		if err := r.addView(page, viewKey{p.Number, v}); err != nil {
			return nil, err
		}
	}
	var err error
	if page.Parts, err = x.partsOf(p.Number, page.Marks); err != nil {
		return nil, err
	}
	if page.Parts != nil {
		page.Parts.Crops = r.partCrops(p.Number)
	}
	page.Front = x.front(page)
	page.Effects = x.effectsOf(p.Number)
	for _, l := range x.d.Links {
		if l.Plant == p.Number {
			l.Href = fromPlants(l.Href)
			page.Links = append(page.Links, l)
		}
	}
	for _, l := range x.digest.Looks {
		if l.Plant == p.Number {
			page.Watch = append(page.Watch, l)
		}
	}
	return page, nil
}

// aboutPlant is what the list of plants says of one besides its name.
func (x *index) aboutPlant(p record.Plant) (lines []string) {
	if p.Group != "" {
		lines = append(lines, "Group "+p.Group)
	}
	if pot := x.potNow(p); pot.Known() {
		lines = append(lines, fmt.Sprintf("clear pot %g to %g mm across, %g mm high", pot.TopMM, pot.BottomMM, pot.HeightMM))
	}
	if p.From != "" {
		lines = append(lines, "here since "+words.LongDay(p.From))
	}
	if p.Until != "" {
		lines = append(lines, "until "+words.LongDay(p.Until))
	}
	return lines
}

// addView puts what is told of a view on its plant's page. Of the view that leads, the pictures are made as large as the index and the
// page's head show them.
func (r *renderer) addView(page *plantPage, k viewKey) error {
	if len(r.x.views[k]) == 0 && len(r.x.photos[k]) == 0 {
		return nil
	}
	section, entry := 0, 0
	lead := k.view == r.x.leadView(k.plant)
	if lead && r.inIndex[k.plant] {
		section = r.section
	}
	if lead && r.pictured[k.plant] {
		entry = entryPairW
	}
	vp, err := r.viewPage(k, page.Marks, section, entry)
	if err != nil {
		return err
	}
	if lead {
		page.First = vp.Pair.Entry[1]
	}
	if section > 0 {
		page.Lead = vp
		if page.Entry != nil {
			page.Entry.Then, page.Entry.Now = vp.Pair.Entry[0], vp.Pair.Entry[1]
		}
	}
	page.Views = append(page.Views, vp)
	return nil
}

// PartsFirst says that the plant's surest change is one of a part: what is told of the parts then comes first.
func (p *plantPage) PartsFirst() bool { return p.Parts != nil && p.partLeads }

// front picks the chart of what changed most surely; of a plant that did not change the first one.
func (x *index) front(page *plantPage) *Chart {
	var charts []*Chart
	if page.Lead != nil {
		charts = append(append(charts, page.Lead.Charts...), page.Lead.Extra...)
	}
	if d, ok := x.digest.Plant(page.Plant.Number); ok {
		lead := d.Lead()
		of := charts
		if lead.Part != "" && page.Parts != nil {
			of = page.Parts.Charts
		}
		for _, c := range of {
			if c.part == lead.Part && slices.Contains(c.names, lead.Quantity) {
				return c
			}
		}
	}
	if len(charts) > 0 {
		return charts[0]
	}
	return nil
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

func (r *renderer) viewPage(k viewKey, marks []mark, section, entry int) (*viewPage, error) {
	x := r.x
	v := &viewPage{ID: fmt.Sprintf("p%d-%s", k.plant, k.view), Title: words.View(k.view)}
	var err error
	if v.Charts, v.Extra, err = x.charts(k, marks, r.extra); err != nil {
		return nil, err
	}
	v.Pair = r.pairs(k.plant, k.view, pagePairW, section, entry)
	r.addShots(v, k)
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
	return v, nil
}

// addShots puts the pot's walls of then and now side by side, unrolled.
func (r *renderer) addShots(v *viewPage, k viewKey) {
	if k.view != record.Root || !r.extra {
		return
	}
	then, now := r.x.pairOf(k.plant, k.view)
	if then != nil {
		v.Before = r.shot(then, k)
	}
	if now != nil {
		v.After = r.shot(now, k)
	}
}

// shot is the unrolled wall of a photo with its roots drawn; nil where there is none.
func (r *renderer) shot(p *record.Photo, k viewKey) *shot {
	s := &shot{Caption: words.LongDay(p.Taken.Day())}
	s.Pic = r.pics.shown(p, fmt.Sprintf("The pot's wall unrolled on %s, roots drawn.", s.Caption), "wall_overlay", "wall")
	if s.Pic == nil {
		return nil
	}
	return s
}

// nowRow is the latest value with its change since last session and on the longest basis there is.
func (x *index) nowRow(k viewKey, name record.QuantityName) (nowRow, bool) {
	s, ok := x.last(seriesKey{k.plant, k.view, name})
	if !ok {
		return nowRow{}, false
	}
	q := quantity.Of(name, s.Unit)
	row := nowRow{Title: q.Title, Means: q.Means, Now: q.Value(s.Value, s.U95), Date: words.UnbrokenDay(s.Date)}
	row.Last = x.cell(k, name, record.BasisLast)
	row.Long = x.cell(k, name, record.BasisBaseline)
	row.Event = x.cell(k, name, record.BasisEvent)
	if row.Long.Text == "" {
		row.Long = x.cell(k, name, record.BasisYear)
	}
	return row, true
}

func (x *index) cell(k viewKey, name record.QuantityName, basis string) digest.Cell {
	c, ok := x.change(k, name, basis)
	if !ok {
		return digest.Cell{}
	}
	return digest.CellOf(&c)
}

// settleBases takes the first day that a column is counted from for its head, and leaves it to the rows that differ.
func settleBases(tables ...[]nowRow) bases {
	var b bases
	for _, column := range []struct {
		head *string
		cell func(*nowRow) *digest.Cell
	}{{&b.Last, func(r *nowRow) *digest.Cell { return &r.Last }}, {&b.Long, func(r *nowRow) *digest.Cell { return &r.Long }}, {&b.Event, func(r *nowRow) *digest.Cell { return &r.Event }}} {
		for _, rows := range tables {
			for i := range rows {
				c := column.cell(&rows[i])
				if *column.head == "" {
					*column.head = c.Since
				}
				if c.Since == *column.head {
					c.Since = ""
				}
			}
		}
	}
	for _, rows := range tables {
		for i := range rows {
			rows[i].HasEvent = b.Event != ""
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
			row.Link = fromPlants(r.x.d.PhotoLink(*p))
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
	names, days := r.listed(k)
	for _, n := range names {
		t.Columns = append(t.Columns, quantity.Of(n, r.x.series[seriesKey{k.plant, k.view, n}][0].Unit).Title)
	}
	for _, d := range days {
		row := sessionRow{Date: words.UnbrokenDay(d), ISO: d, Cells: make([]string, len(names))}
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

// listed are the quantities that a view's table lists, and the days on which there is one of them.
func (r *renderer) listed(k viewKey) (names []record.QuantityName, days []string) {
	dates := map[string]bool{}
	for _, c := range chartPlan[k.view] {
		if !c.isMain && !r.extra {
			continue
		}
		for _, n := range c.names {
			ss := r.x.series[seriesKey{k.plant, k.view, n}]
			for _, s := range ss {
				dates[s.Date] = true
			}
			if len(ss) > 0 {
				names = append(names, n)
			}
		}
	}
	return names, slices.Sorted(maps.Keys(dates))
}

// thumb is the small photo of a session.
func (r *renderer) thumb(k viewKey, date string) *picture {
	for _, p := range r.x.counted(k) {
		if p.Taken.Day() == date {
			return r.pics.portrait(p, 132, fmt.Sprintf("Plant %d on %s", k.plant, words.LongDay(date)), "overlay", "plain")
		}
	}
	return nil
}
