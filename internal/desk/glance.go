package desk

import (
	"html/template"
	"net/http"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/chart"
	"phototrack/internal/digest"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// name is the collection's name for a reader.
func (s *snapshot) name() string {
	if t := s.c.Settings.Report.Title; t != "" {
		return t
	}
	return filepath.Base(s.c.Dir)
}

// plantCard is one plant of the month at a glance.
type plantCard struct {
	Plant              record.Plant
	Then, Now          string // addresses of its pictures, "" for none
	ThenDay, NowDay    string
	Spark              template.HTML
	Size               string // how large it is, where nothing changed
	Lines              []cardLine
	LastHead, LongHead string
	More               int // quantities that changed and are told on its page
	Looks              []string
	Last               string // day of the latest session, "" for none
	Shots              int    // photos in the month
	times              float64
}

// cardLine is a quantity that changed, over both spans.
type cardLine struct {
	Title      string
	Last, Long digest.Cell
	LongSurer  bool
}

// choice is what the month at a glance shows, from its address.
type choice struct {
	Month, Find, Show, Sort, Group string
}

type glance struct {
	choice
	Months         []string
	Earlier, Later string // months beside this one that have photos, "" for none
	Groups         []string
	Cards          []plantCard
	All            int
	D              *digest.Digest
	Lists          int // faults of the grower's files and photos that are put right there
	Unsorted       int
	Waiting        []waiting
	Due            int  // photos to be measured again
	Empty          bool // nothing measured yet
	Report         reportState
}

func (d *Desk) glancePage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
	g := glance{choice: choice{q.Get("month"), strings.TrimSpace(q.Get("find")), q.Get("show"), q.Get("sort"), q.Get("group")}}
	running := d.job.state().Running
	if !running { // else it is being done
		go s.due() // beside the analysis: neither waits for the other
	}
	m, name, err := s.month(g.Month)
	if err != nil {
		return err
	}
	g.Month, g.Months, g.Empty = name, s.months, len(s.photos) == 0
	for i, n := range s.months { // the latest first
		if n == name && i > 0 {
			g.Later = s.months[i-1]
		}
		if n == name && i+1 < len(s.months) {
			g.Earlier = s.months[i+1]
		}
	}
	if !running {
		g.Due = s.due()
	}
	g.Report = d.reportOf(s, name)
	g.fill(s, m)
	return d.show(w, r, s, sheet{template: "glance.html", title: words.Month(name), here: "month", body: g})
}

func (g *glance) fill(s *snapshot, m *month) {
	an := &m.an
	g.D = &m.digest
	g.Lists = len(g.D.Lists) + len(s.c.Problems)
	looks := wantsALook(g.D)
	shots := map[int]int{}
	for i := range s.photos {
		p := &s.photos[i]
		if strings.HasPrefix(p.Taken.Day(), g.Month) {
			shots[p.Plant]++
			if w, ok := s.waitingOf(p); ok {
				g.Waiting = append(g.Waiting, w)
			}
		}
		if s.homeless(p) {
			g.Unsorted++
		}
	}
	sort.SliceStable(g.Waiting, func(i, j int) bool { return g.Waiting[i].before(&g.Waiting[j]) })
	g.Groups = groupsOf(s.c.Plants)
	for _, p := range s.c.Plants {
		if p.Until != "" && p.Until < an.From || p.From != "" && p.From > an.To {
			continue
		}
		g.All++
		k := plantCard{Plant: p, Looks: looks[p.Number], Shots: shots[p.Number]}
		if c, ok := g.D.Plant(p.Number); ok {
			k.times = c.Lead().Times()
		}
		if g.wants(&k) {
			k.fill(s, m)
			g.Cards = append(g.Cards, k)
		}
	}
	g.order()
}

// wantsALook is why each plant wants a look.
func wantsALook(d *digest.Digest) map[int][]string {
	looks := map[int][]string{}
	for _, l := range d.Looks {
		switch {
		case l.Near:
		case l.Eased:
			looks[l.Plant] = append(looks[l.Plant], "Was so, not dealt with: "+l.Message)
		default:
			looks[l.Plant] = append(looks[l.Plant], l.Message)
		}
	}
	for _, a := range d.Again {
		looks[a.Plant] = append(looks[a.Plant], "Photograph again: "+a.What)
	}
	return looks
}

// homeless says that a photo belongs to no listed plant or has no date, and was not put aside.
func (s *snapshot) homeless(p *record.Photo) bool {
	_, listed := s.c.Plant(p.Plant)
	return (!listed || p.Taken.IsZero()) && !s.dismissed(p)
}

// linesOnCard is how many quantities a card tells.
const linesOnCard = 3

// fill puts a plant's pictures, its line and what changed on the card.
func (k *plantCard) fill(s *snapshot, m *month) {
	byKey := m.series
	n, to := k.Plant.Number, m.an.To
	view := m.digest.LeadView(n, len(s.counted(n, record.Leaf, to)) > 0)
	then, now := m.digest.Pair(n, view, s.counted(n, view, to))
	if now != nil {
		k.Then, k.Now = pairAddress(then, now)
		k.NowDay = now.Taken.Day()
		if then != nil {
			k.ThenDay = then.Taken.Day()
		}
	}
	if c, ok := m.digest.Plant(n); ok {
		for i := range c.Lines { // what is measured on two photos together, such as new root, has no series of its own
			l := &c.Lines[i]
			if k.Spark = sparkOf(byKey[seriesKey{n, l.View, l.Quantity, l.Part}], s.c.Events, n); k.Spark != "" {
				break
			}
		}
		k.tell(&c)
	}
	for _, name := range headline[view] {
		if list := byKey[seriesKey{n, view, name, ""}]; len(list) > 0 {
			k.Last = max(k.Last, list[len(list)-1].Date)
		}
	}
	if list := byKey[seriesKey{n, view, headline[view][0], ""}]; len(list) > 0 && len(k.Lines) == 0 {
		last := list[len(list)-1]
		q := quantity.Of(last.Quantity, last.Unit)
		k.Size = q.Title + " " + q.Value(last.Value, last.U95)
		if len(list) > 1 {
			k.Size += ", no change"
		}
	}
	if k.Spark == "" {
		k.Spark = sparkOf(byKey[seriesKey{n, view, headline[view][0], ""}], s.c.Events, n)
	}
}

// tell puts the surest changes on the card, and how many more there are.
func (k *plantCard) tell(c *digest.Plant) {
	for i := range c.Lines {
		l := &c.Lines[i]
		if i == linesOnCard || i > 0 && l.Abstract() {
			k.More = len(c.Lines) - i
			return
		}
		line := cardLine{l.Title(), l.LastCell(), l.LongCell(), l.LongIsSurer()}
		headOf(&k.LastHead, &line.Last)
		headOf(&k.LongHead, &line.Long)
		k.Lines = append(k.Lines, line)
	}
}

// headOf lets the head of a column say from when its cells count; a cell that counts from another day says so itself.
func headOf(head *string, c *digest.Cell) {
	switch {
	case c.Text == "":
	case *head == "":
		*head, c.Since = c.Since, ""
	case c.Since == *head:
		c.Since = ""
	}
}

// sparkOf is a series as a small line, with the days of the plant's events.
func sparkOf(list []record.Session, events []record.Event, plant int) template.HTML {
	var out chart.Spark
	for _, ses := range list {
		t, err := time.Parse(time.DateOnly, ses.Date)
		if err != nil {
			continue
		}
		q := quantity.OfPart(ses.Quantity, ses.Part, ses.Unit)
		out.Words = words.Upper(q.Title) + " over time"
		out.Points = append(out.Points, chart.Point{At: t, Value: ses.Value * q.Scale, U95: ses.U95 * q.Scale})
	}
	for _, e := range events {
		if t, err := time.Parse(time.DateOnly, e.Date); e.Plant == plant && err == nil {
			out.Marks = append(out.Marks, t)
		}
	}
	return template.HTML(out.SVG())
}

// wants says whether the choice shows the card.
func (g *glance) wants(k *plantCard) bool {
	if f := strings.ToLower(g.Find); f != "" && f != itoa(k.Plant.Number) && !strings.Contains(strings.ToLower(k.Plant.Name), f) {
		return false
	}
	if g.Group != "" && !strings.EqualFold(g.Group, k.Plant.Group) {
		return false
	}
	switch g.Show {
	case "look":
		return len(k.Looks) > 0
	case "moved":
		return k.times > 0
	case "missing":
		return k.Shots == 0
	}
	return true
}

func (g *glance) order() {
	by := func(less func(a, b *plantCard) bool) {
		sort.SliceStable(g.Cards, func(i, j int) bool { return less(&g.Cards[i], &g.Cards[j]) })
	}
	by(func(a, b *plantCard) bool { return a.Plant.Number < b.Plant.Number })
	switch g.Sort {
	case "", "moved":
		by(func(a, b *plantCard) bool { return a.times > b.times })
	case "look":
		by(func(a, b *plantCard) bool { return len(a.Looks) > len(b.Looks) })
	case "group":
		by(func(a, b *plantCard) bool { return a.Plant.Group < b.Plant.Group })
	case "name":
		by(func(a, b *plantCard) bool { return strings.ToLower(a.Plant.Name) < strings.ToLower(b.Plant.Name) })
	}
}

type seriesKey struct {
	plant    int
	view     record.View
	quantity record.QuantityName
	part     string
}

// sessionsByKey finds each series among the sessions, which are listed by series and day.
func sessionsByKey(an *change.Analysis) map[seriesKey][]record.Session {
	out := map[seriesKey][]record.Session{}
	key := func(i int) seriesKey {
		s := &an.Sessions[i]
		return seriesKey{s.Plant, s.View, s.Quantity, s.Part}
	}
	for from := 0; from < len(an.Sessions); {
		upto := from + 1
		for upto < len(an.Sessions) && key(upto) == key(from) {
			upto++
		}
		out[key(from)] = an.Sessions[from:upto:upto]
		from = upto
	}
	return out
}

// watchLine is a watch rule that waits for what was done about it.
type watchLine struct {
	Plant, Line          int
	State, Text, Message string
}

// watchOf are the watch rules that wait for an answer about a plant.
func watchOf(d *digest.Digest, plant int) (out []watchLine) {
	for _, l := range d.Looks {
		if l.Plant == plant {
			w := watchLine{l.Plant, l.Line, "Needs a look", l.Evidence, l.Message}
			switch {
			case l.Near:
				w.State = "Nearly"
			case l.Eased:
				w.State = "Was so, not dealt with"
			}
			out = append(out, w)
		}
	}
	return out
}
