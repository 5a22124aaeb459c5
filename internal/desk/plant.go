package desk

import (
	"net/http"
	"slices"
	"sort"
	"strconv"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/digest"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/words"
)

// plantBody is a plant's page.
type plantBody struct {
	Plant          record.Plant
	Pot            record.Pot
	Month          string
	Months         []string
	Face           string
	Gaps           []digest.Gap // of this month
	Card           plantCard    // what changed, with its pictures
	Rules          []ruleSwitch
	Watch          []watchLine
	Events         []letteredEvent
	EventsVersion  string
	Kinds          []string
	Views          []plantView
	Parts          *report.PartSection // nil where no part is followed
	PartsFirst     bool                // what changed most surely is of a part
	Waits          []digest.LinesWait
	Listed         []record.Part  // its lines of parts.csv
	Counts         []record.Count // the latest first
	CountWords     []string
	Count          countForm
	Says, SaysMore []string // changes in words: of what tells most, and the rest
	Today          string
	Earlier, Later *record.Plant
}

type letteredEvent struct {
	Letter string
	collection.EventLine
}

type plantView struct {
	View         record.View
	Charts, More []*report.Chart
	Photos       []shot
}

// shot is a photo in a list.
type shot struct {
	*record.Photo
	Thumb   string
	Status  string
	Reasons []reason
	Summary string
}

func shotOf(p *record.Photo) shot {
	s := shot{Photo: p, Status: string(p.Status), Reasons: reasonsOf(p.Reasons), Summary: summary(p)}
	if p.WidthPx > 0 && p.Calibration != nil {
		s.Thumb = pictureAddress(p, "thumb")
	}
	return s
}

func (d *Desk) plantPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	n, err := strconv.Atoi(r.PathValue("plant"))
	if err != nil {
		return notFound("that plant is not in plants.csv")
	}
	b, err := plantBodyOf(s, n, r.URL.Query().Get("month"))
	if err != nil {
		return err
	}
	return d.show(w, r, s, sheet{template: "plant.html", title: itoa(n) + " " + plantTitle(b.Plant), here: "month", body: b, scripts: []string{"chart.js"}})
}

// plantAgain shows a plant's page with a count that was refused, as it was typed.
func (d *Desk) plantAgain(w http.ResponseWriter, r *http.Request, s *snapshot, n int, k countForm) error {
	b, err := plantBodyOf(s, n, "")
	if err != nil {
		return err
	}
	b.Count = k
	return d.again(w, s, sheet{template: "plant.html", title: itoa(n) + " " + plantTitle(b.Plant), here: "month", body: b})
}

// plantBodyOf is what a plant's page shows in a month.
func plantBodyOf(s *snapshot, n int, name string) (b plantBody, err error) {
	p, ok := s.c.Plant(n)
	if !ok {
		return b, notFound("that plant is not in plants.csv")
	}
	an, month, err := s.analysis(name)
	if err != nil {
		return b, err
	}
	b = plantBody{Plant: p, Pot: s.c.PotAt(n, ""), Month: month, Months: s.months, Kinds: collection.EventKinds(), Today: today()}
	b.EventsVersion = s.c.Version(collection.EventsFile)
	for i, e := range eventsOf(s.c, n) {
		b.Events = append(b.Events, letteredEvent{report.Letter(i), e})
	}
	charted := chartData(s, an, p)
	m, _, err := s.month(month)
	if err != nil {
		return b, err
	}
	for _, list := range [][]digest.Gap{m.digest.Again, m.digest.Lists, m.digest.Aside} {
		b.Gaps = append(b.Gaps, filtered(list, func(g digest.Gap) bool { return g.Plant == n })...)
	}
	b.Card = plantCard{Plant: p}
	b.Card.fill(s, m)
	b.Watch = watchOf(&m.digest, n)
	b.Rules = rulesFor(s.c, n)
	for _, view := range []record.View{record.Leaf, record.Root} {
		if err := b.addView(s, charted, view); err != nil {
			return b, err
		}
	}
	charted.Digest = &m.digest
	if b.Parts, err = report.Parts(charted, n); err != nil {
		return b, err
	}
	if c, ok := m.digest.Plant(n); ok {
		b.PartsFirst = c.Lead().Part != ""
	}
	b.Waits = filtered(m.digest.Waits, func(w digest.LinesWait) bool { return w.Plant == n })
	b.Says, b.SaysMore = changesInWords(an, n)
	b.Earlier, b.Later = neighbours(s.c.Plants, n)
	b.Listed, b.Counts, b.CountWords = s.c.PartsOf(n), s.c.CountsOf(n), collection.CountWords()
	slices.Reverse(b.Counts)
	b.Count.Typed = map[string]string{"date": b.Today}
	return b, nil
}

// addView puts the charts and photos of a view on the page, the latest photo first.
func (b *plantBody) addView(s *snapshot, charted *report.Data, view record.View) (err error) {
	list := s.of(b.Plant.Number, view)
	if len(list) == 0 {
		return nil
	}
	v := plantView{View: view}
	if v.Charts, v.More, err = report.Charts(charted, b.Plant.Number, view); err != nil {
		return err
	}
	for _, p := range slices.Backward(list) {
		v.Photos = append(v.Photos, shotOf(p))
		if b.Face == "" && p.Status != record.Rejected {
			b.Face = pictureAddress(p, "face")
		}
	}
	b.Views = append(b.Views, v)
	return nil
}

// filtered are the items of a list that are wanted, in its order.
func filtered[T any](list []T, wanted func(T) bool) (out []T) {
	for _, x := range list {
		if wanted(x) {
			out = append(out, x)
		}
	}
	return out
}

// changesInWords are the plant's changes that are more than noise: those of the quantities that speak first, since the
// last session and since the baseline, and all others.
func changesInWords(an *change.Analysis, plant int) (first, more []string) {
	seen := map[string]bool{}
	for _, basis := range []string{record.BasisLast, record.BasisBaseline, ""} {
		for _, c := range an.Changes {
			other := c.Basis != record.BasisLast && c.Basis != record.BasisBaseline
			if c.Plant != plant || c.Basis != basis && !(basis == "" && other) || c.Verdict != record.Rose && c.Verdict != record.Fell || seen[c.Sentence] {
				continue
			}
			seen[c.Sentence] = true
			text := words.Upper(ofPlant(plant, c.Sentence))
			if !other && slices.Contains(headline[c.View], c.Quantity) {
				first = append(first, text)
			} else {
				more = append(more, text)
			}
		}
	}
	return first, more
}

// eventsOf are the lines of events.csv about a plant, by day.
func eventsOf(c *collection.Collection, plant int) (out []collection.EventLine) {
	for _, e := range c.EventLines {
		if slices.Contains(e.Numbers, plant) {
			out = append(out, e)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Date < out[j].Date })
	return out
}

// neighbours are the plants with the next lower and next higher number.
func neighbours(plants []record.Plant, n int) (before, after *record.Plant) {
	sorted := append([]record.Plant(nil), plants...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].Number < sorted[j].Number })
	for i := range sorted {
		if sorted[i].Number < n {
			before = &sorted[i]
		}
		if sorted[i].Number > n && after == nil {
			after = &sorted[i]
		}
	}
	return before, after
}

// unsortedPage lists photos that belong to no listed plant, or have no date.
func (d *Desk) unsortedPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	var list []shot
	for i := range s.photos {
		p := &s.photos[i]
		if (s.homeless(p) || p.View == "") && !s.dismissed(p) {
			k := shotOf(p)
			if path, _ := originalOf(s, p); k.Thumb == "" && path != "" {
				k.Thumb = pictureAddress(p, "original") // there is no smaller one of a photo that could not be measured
			}
			list = append(list, k)
		}
	}
	return d.show(w, r, s, sheet{template: "unsorted.html", title: "Photos without a place", here: "month", body: list})
}

// dismissed says that a photo without a place was put aside as no photo of a plant.
func (s *snapshot) dismissed(p *record.Photo) bool {
	return s.c.OverrideFor(p.SHA256, p.Name).Excluded && p.Status == record.Rejected
}

// dismissReason is the reason that stands in corrections.csv for a file that is no photo of a plant.
const dismissReason = "no photo of a plant"

// dismiss puts a photo without a place aside: it is asked for no more. The file stays, and the line can be taken back.
func (d *Desk) dismiss(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	if p.Status != record.Rejected {
		return bad(http.StatusUnprocessableEntity, "this photo was measured", "Leave it out on its own page, with a reason.")
	}
	err := d.change(func(c *collection.Collection) error {
		return c.AppendCorrection(collection.Correction{Photo: collection.PhotoRef(p.SHA256, p.Name), Field: collection.FieldExclude, New: "yes", Reason: dismissReason})
	})
	if err != nil {
		return err
	}
	return back(w, r, "/unsorted?said=dismissed")
}
