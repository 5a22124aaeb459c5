package report

import (
	"fmt"
	"html/template"
	"image"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"

	"phototrack/internal/digest"
	"phototrack/internal/pixels"
	"phototrack/internal/plate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// PartSection is what a plant's page tells of its parts and of what was counted.
type PartSection struct {
	Crops  []partCrop
	Rows   []PartRow
	Bases  bases
	Charts []*Chart
	News   []string
	Waits  []string // "spike 1 on 11 Jul 2026": lines that wait on the plant's latest photo
}

// PartRow is the latest value of one quantity of one part, and how it moved.
type PartRow struct {
	nowRow
	Part string
	Rate string // since the session before, a day
}

// partCrop is a part then and now, at one scale, with its line.
type partCrop struct {
	Part      string
	Then, Now *crop // Then is nil where there is one day only
}

// Size of the pictures of parts, px, and how many parts are shown.
const (
	partCropW, partCropH = 190, 230
	maxPartCrops         = 6
)

// partCrops are the plant's parts on the first and the last photo that has a line on them.
func (r *renderer) partCrops(plant int) (out []partCrop) {
	seen := map[string]bool{}
	for _, k := range r.x.partKeys[plant] {
		if k.view == "" || seen[k.part] || len(out) == maxPartCrops {
			continue
		}
		seen[k.part] = true
		var with []*record.Photo
		for _, p := range r.x.counted(viewKey{plant, k.view}) {
			if _, ok := p.FindPart(k.quantity, k.part); ok {
				with = append(with, p)
			}
		}
		if len(with) == 0 {
			continue
		}
		photos := []*record.Photo{r.pics.outlined(with[0])}
		if last := with[len(with)-1]; last.Taken.Day() != with[0].Taken.Day() {
			photos = append(photos, r.pics.outlined(last))
		}
		if c, ok := r.partCrop(photos, k); ok {
			out = append(out, c)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Part < out[j].Part })
	return out
}

func (r *renderer) partCrop(photos []*record.Photo, k partKey) (partCrop, bool) {
	var frames []plate.Frame
	for _, p := range photos {
		m := r.pics.decode(p.SHA256, func(size image.Rectangle) int { return size.Dx() }, "plain", "overlay")
		if m == nil {
			return partCrop{}, false
		}
		f, ok := plate.FromPhoto(p, m)
		if !ok {
			return partCrop{}, false
		}
		frames = append(frames, f)
	}
	crops, ok := plate.PartCrops(frames, k.part, partCropW, partCropH)
	if !ok {
		return partCrop{}, false
	}
	out := partCrop{Part: k.part}
	for i, c := range crops {
		if c.Image == nil {
			return partCrop{}, false
		}
		p := photos[i]
		pic := inline(c.Image, fmt.Sprintf("%s of plant %d on %s, with its line", words.Upper(k.part), p.Plant, words.LongDay(p.Taken.Day())))
		pixels.Done(c.Image)
		if pic == nil {
			return partCrop{}, false
		}
		one := &crop{picture: *pic, Caption: words.UnbrokenDay(p.Taken.Day()), Place: placed(c)}
		var values []string
		for _, name := range partOrder {
			if q, ok := p.FindPart(name, k.part); ok {
				w := quantity.Of(name, q.Unit)
				values = append(values, w.Title+" "+words.Together(w.Value(q.Value, q.U95)))
			}
		}
		one.Values, one.FullW = strings.Join(values, ", "), c.FullW
		if i == 0 && len(crops) > 1 {
			out.Then = one
		} else {
			out.Now = one
		}
	}
	return out, true
}

// partOrder are the quantities of parts in the order in which they are shown.
var partOrder = []record.QuantityName{record.PartLength, record.PartWidth, record.PartBend, record.PartAngle, record.CountOf}

// maxPartCharts are drawn of a plant: more are in the table.
const maxPartCharts = 6

// Parts tells of a plant's parts as its page in a report does, without their pictures; nil where there are none. Of d it looks at
// what Charts does, and at the changes and the digest.
func Parts(d *Data, plant int) (*PartSection, error) {
	x := newIndex(d)
	return x.partsOf(plant, x.marksOf(plant))
}

// partsOf is a plant's section of parts, nil where there are none.
func (x *index) partsOf(plant int, marks []mark) (*PartSection, error) {
	if len(x.partKeys[plant]) == 0 {
		return nil, nil
	}
	sec := &PartSection{}
	var rows []nowRow
	for _, k := range inOrder(x.partKeys[plant]) {
		ss := x.parts[k]
		row := x.partRow(k, ss)
		sec.Rows = append(sec.Rows, row)
		rows = append(rows, row.nowRow)
		if len(ss) > 1 && len(sec.Charts) < maxPartCharts && k.quantity != record.PartAngle {
			box, err := x.partChart(k, ss, marks)
			if err != nil {
				return nil, err
			}
			if box != nil {
				sec.Charts = append(sec.Charts, box)
			}
		}
	}
	sec.Bases = settleBases(rows)
	for i := range rows {
		sec.Rows[i].nowRow = rows[i]
	}
	for _, n := range x.digest.News {
		if n.Plant == plant {
			_, text, _ := strings.Cut(n.Sentence, ": ")
			sec.News = append(sec.News, words.Upper(text))
		}
	}
	for _, w := range x.digest.Waits {
		if w.Plant == plant {
			sec.Waits = append(sec.Waits, strings.Join(w.Parts, ", ")+" on "+words.UnbrokenDay(w.Day))
		}
	}
	return sec, nil
}

// inOrder are the quantities of a plant's parts in the order in which they are shown: part by part, counts last.
func inOrder(keys []partKey) []partKey {
	rank := map[record.QuantityName]int{}
	for i, q := range partOrder {
		rank[q] = i
	}
	keys = slices.Clone(keys)
	sort.SliceStable(keys, func(i, j int) bool {
		a, b := keys[i], keys[j]
		if c, d := a.quantity == record.CountOf, b.quantity == record.CountOf; c != d {
			return d
		}
		if a.part != b.part {
			return a.part < b.part
		}
		return rank[a.quantity] < rank[b.quantity]
	})
	return keys
}

// partRow is a part's size now and since when it changed by how much.
func (x *index) partRow(k partKey, ss []record.Session) PartRow {
	last := ss[len(ss)-1]
	q := quantity.Of(k.quantity, last.Unit)
	title := q.Title
	if k.quantity == record.CountOf {
		title = "number"
	}
	row := PartRow{Part: k.part, nowRow: nowRow{Title: title, Means: q.Means, Now: q.Value(last.Value, last.U95), Date: words.UnbrokenDay(last.Date)}}
	row.Last = x.partCell(k, record.BasisLast)
	row.Long = x.partCell(k, record.BasisBaseline)
	row.Event = x.partCell(k, record.BasisEvent)
	row.Rate = perDay(ss, q)
	return row
}

// perDay is the rate from the session before to the last one, "" where there is none: growers think of a spike's growth in
// millimetres a day.
func perDay(ss []record.Session, q quantity.Info) string {
	if len(ss) < 2 || q.Name != record.PartLength {
		return ""
	}
	a, b := ss[len(ss)-2], ss[len(ss)-1]
	from, ok1 := words.Day(a.Date)
	to, ok2 := words.Day(b.Date)
	days := to.Sub(from).Hours() / 24
	if !ok1 || !ok2 || days < 1 {
		return ""
	}
	u := 1.96 * math.Hypot(a.UVarying, b.UVarying) / days
	return q.Delta((b.Value-a.Value)/days, u) + " a day"
}

// partCell is how a part's quantity moved against a basis, the latest comparison.
func (x *index) partCell(k partKey, basis string) digest.Cell {
	var best *record.Change
	for i := range x.changes[viewKey{k.plant, k.view}] {
		c := &x.changes[viewKey{k.plant, k.view}][i]
		if c.Quantity == k.quantity && c.Part == k.part && c.Basis == basis && (best == nil || c.ToDate >= best.ToDate) {
			best = c
		}
	}
	if best == nil {
		return digest.Cell{}
	}
	return digest.CellOf(best)
}

// partChart draws one quantity of one part with the plant's events.
func (x *index) partChart(of partKey, ss []record.Session, marks []mark) (*Chart, error) {
	plant, view, name, part := of.plant, of.view, of.quantity, of.part
	own := *x // the series that the chart looks up are this part's alone
	k := of.seriesKey
	own.series = map[seriesKey][]record.Session{k: ss}
	own.trends, own.photos = nil, nil
	for _, n := range x.groupOf[x.plant[plant].Group] { // behind it the parts of the same name on comparison plants
		if other := x.parts[partKey{seriesKey{n, view, name}, part}]; n != plant && len(other) > 0 {
			own.series[seriesKey{n, view, name}] = other
		}
	}
	for _, t := range x.d.Trends {
		if t.Plant == plant && t.View == view && t.Quantity == name && t.Part == part {
			if own.trends == nil {
				own.trends = map[seriesKey][]record.Trend{}
			}
			own.trends[k] = append(own.trends[k], t)
		}
	}
	title := words.Upper(quantity.OfPart(name, part, "").Title)
	box, err := own.chartBox(viewKey{plant, view}, charted{title, []record.QuantityName{name}, name == record.PartLength || name == record.CountOf, 0, true}, marks)
	if err != nil || box == nil {
		return box, err
	}
	// Several parts have the same quantity; ids stay single on the page.
	id := fmt.Sprintf("%s-%x", box.ID, []byte(part))
	box.SVG = template.HTML(strings.ReplaceAll(string(box.SVG), box.ID, id))
	box.ID, box.part = id, part
	return box, nil
}

// partsToSee names a view's parts with their latest size, and what was counted on the plant, for the round's sheet. Parts that
// are gone are left out.
func (x *index) partsToSee(k viewKey) string {
	type seen struct{ date, text string }
	last := map[string]seen{}
	for _, s := range x.d.Sessions {
		if s.Plant == k.plant && (s.View == k.view || s.View == "") && toSee(s) && s.Date >= last[s.Part].date {
			last[s.Part] = seen{s.Date, quantity.Of(s.Quantity, s.Unit).Bare(s.Value, s.U95)}
		}
	}
	for _, n := range x.digest.News {
		if n.Plant == k.plant && n.Kind == "gone" {
			delete(last, n.Part)
		}
	}
	var out []string
	for _, n := range slices.Sorted(maps.Keys(last)) {
		out = append(out, n+" ("+last[n].text+")")
	}
	return strings.Join(out, ", ")
}

// toSee says whether a quantity tells how large a part is, or how many there are.
func toSee(s record.Session) bool {
	return s.Part != "" && (s.Quantity == record.PartLength || s.Quantity == record.PartWidth || s.Quantity == record.CountOf)
}
