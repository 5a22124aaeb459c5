package desk

import (
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"sort"
	"strings"

	"phototrack/internal/change"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
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
	Plant record.Plant
	Face  string // address of the portrait, "" for none
	Lines []cardLine
	Looks []look
	Last  string // day of the latest session, "" for none
	Shots int    // photos in the month
	moved float64
}

type cardLine struct {
	Title, Value       string
	Mark, Class, Words string // of the verdict
}

// look is something that wants a person's eye.
type look struct {
	Text, Hint string
	Watch      bool // a watch rule fired
}

// choice is what the month at a glance shows, from its address.
type choice struct {
	Month, Find, Show, Sort, Group string
}

type glance struct {
	choice
	Months    []string
	Groups    []string
	Cards     []plantCard
	All       int
	Need, Not int
	Moved     int
	Watch     []watchLine
	Unsorted  int
	Due       int  // photos to be measured again
	Empty     bool // nothing measured yet
	First     []string
}

type watchLine struct {
	Plant, Line              int
	Name, State, Text, Words string
}

func (d *Desk) glancePage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
	g := glance{choice: choice{q.Get("month"), strings.TrimSpace(q.Get("find")), q.Get("show"), q.Get("sort"), q.Get("group")}}
	an, month, err := s.analysis(g.Month)
	if err != nil {
		return err
	}
	g.Month, g.Months, g.Empty = month, s.months, len(s.photos) == 0
	if !d.job.state().Running { // else it is being done
		g.Due = s.due()
	}
	g.fill(s, an)
	return d.show(w, r, s, "glance.html", longMonth(month), "month", g)
}

func (g *glance) fill(s *snapshot, an *change.Analysis) {
	looks := needs(an)
	changes, sessions := latestChanges(an), latestSessions(an)
	shots := map[int]int{}
	for i := range s.photos {
		p := &s.photos[i]
		if strings.HasPrefix(p.Taken.Day(), g.Month) {
			shots[p.Plant]++
		}
		if _, listed := s.c.Plant(p.Plant); !listed || p.Taken.IsZero() {
			g.Unsorted++
		}
	}
	g.Groups = groupsOf(s.c.Plants)
	for _, p := range s.c.Plants {
		if p.Until != "" && p.Until < an.From || p.From != "" && p.From > an.To {
			continue
		}
		k := plantCard{Plant: p, Looks: looks[p.Number], Shots: shots[p.Number]}
		for _, view := range []record.View{record.Leaf, record.Root} {
			k.addView(s, view, an.To, sessions, changes)
		}
		g.All++
		if len(k.Looks) > 0 {
			g.Need++
		}
		if k.Shots == 0 {
			g.Not++
		}
		if k.moved > 1 {
			g.Moved++
		}
		if g.wants(&k) {
			g.Cards = append(g.Cards, k)
		}
	}
	g.order()
	for _, h := range an.Watch {
		if !h.Answered {
			g.Watch = append(g.Watch, watchLine{h.Plant, h.Rule.Line, h.Name, h.State, h.Evidence, h.Rule.Message})
		}
	}
	for i, c := range an.FirstScreen {
		if i == 5 {
			break
		}
		g.First = append(g.First, c.Sentence)
	}
}

// addView puts a view's latest numbers and verdicts on the card.
func (k *plantCard) addView(s *snapshot, view record.View, to string, sessions map[seriesKey]record.Session, changes map[seriesKey]record.Change) {
	var face *record.Photo
	for _, p := range s.of(k.Plant.Number, view) {
		if p.Status != record.Rejected && p.Taken.Day() != "" && p.Taken.Day() <= to {
			face = p // by time: the latest stays
		}
	}
	if face != nil && k.Face == "" { // leaves, which come first, before roots
		k.Face = pictureAddress(face, "face")
	}
	for i, name := range headline[view] {
		key := seriesKey{k.Plant.Number, view, name}
		ses, ok := sessions[key]
		if !ok {
			continue
		}
		k.Last = max(k.Last, ses.Date)
		c, moved := changes[key]
		real := moved && (c.Verdict == record.Rose || c.Verdict == record.Fell)
		if real && c.U95 > 0 {
			k.moved = max(k.moved, math.Abs(c.Change)/c.U95)
		}
		// Beyond the first number a card says only what moved, or a discoloration that is really there.
		if i > 0 && !real && !(strings.HasSuffix(name, "_share") && name != "green_share" && ses.Value > ses.U95) || i > 0 && name == "green_share" {
			continue
		}
		info := quantity.Of(name, ses.Unit)
		line := cardLine{Title: info.Title, Value: info.Value(ses.Value, ses.U95)}
		if moved {
			line.Mark, line.Class = verdictMark(c.Verdict)
			line.Words = string(c.Verdict)
			if real {
				line.Words = fmt.Sprintf("%s by %s", c.Verdict, info.Bare(math.Abs(c.Change), c.U95))
				if info.Shown == "%" && !info.Ratio {
					line.Words = strings.TrimSuffix(line.Words, quantity.Thin+"%") + " points"
				}
			}
		}
		k.Lines = append(k.Lines, line)
	}
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
		return k.moved > 1
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
	case "moved":
		by(func(a, b *plantCard) bool { return a.moved > b.moved })
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
	quantity string
}

// latestSessions gives the newest session of each series.
func latestSessions(an *change.Analysis) map[seriesKey]record.Session {
	out := map[seriesKey]record.Session{}
	for _, s := range an.Sessions {
		k := seriesKey{s.Plant, s.View, s.Quantity}
		if old, ok := out[k]; !ok || s.Date > old.Date {
			out[k] = s
		}
	}
	return out
}

// latestChanges gives the newest change since the last session of each series.
func latestChanges(an *change.Analysis) map[seriesKey]record.Change {
	out := map[seriesKey]record.Change{}
	for _, c := range an.Changes {
		k := seriesKey{c.Plant, c.View, c.Quantity}
		if old, ok := out[k]; c.Basis == record.BasisLast && (!ok || c.ToDate > old.ToDate) {
			out[k] = c
		}
	}
	return out
}

// needs gathers what wants a look, by plant.
func needs(an *change.Analysis) map[int][]look {
	out := map[int][]look{}
	for _, m := range an.Missing {
		if m.Kind == change.MissingSecond {
			continue
		}
		k := look{Text: m.Kind}
		if m.View != "" {
			k.Text = strings.ToLower(viewWords(m.View)) + ": " + m.Kind
		}
		if m.Photo != "" {
			k.Text = m.Photo + ": " + m.Kind
		}
		for i, r := range reasonsOf(m.Reasons) {
			if i == 0 {
				k.Text += ". " + r.Text
				k.Hint = r.Hint
			}
		}
		out[m.Plant] = append(out[m.Plant], k)
	}
	for _, h := range an.Watch {
		if !h.Answered && h.State == "fired" {
			out[h.Plant] = append(out[h.Plant], look{Text: "Watch rule: " + ofPlant(h.Plant, h.Evidence), Watch: true})
		}
	}
	return out
}
