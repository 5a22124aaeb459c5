package report

import (
	"bufio"
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"phototrack/internal/chart"
	"phototrack/internal/digest"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

//go:embed assets
var assets embed.FS

// smallCollection is the number of plants up to which every quantity is charted and each session has its small photo;
// above it only what tells most, so that the page of a full garden stays light.
const smallCollection = 12

// maxThumbs bounds the small photos of sessions: at about 4 KB each they then weigh under 1.5 MB.
const maxThumbs = 300

// renderer makes the plants' pages and sections.
type renderer struct {
	x        *index
	pics     *pictures
	extra    bool // chart more than the main quantities
	thumbs   bool // a small photo per session
	tmpl     *template.Template
	css      template.CSS
	js       template.JS
	inIndex  map[int]bool // plants that have a section in the index: those that changed or need a look
	pictured map[int]bool // plants that the first screen shows with their pictures
	section  int          // px, width of a section's pictures
}

// page is what the template of the index sees.
type page struct {
	*Data
	CSS       template.CSS
	JS        template.JS
	First     bool    // no change can be told yet
	Gallery   []entry // the plants of a first month, each with its picture
	None      bool    // no photo of the period counts
	Facts     []fact
	Changed   []entry
	Top, Rest []entry
	Look      []lookEntry
	News      []newsEntry
	Answered  int
	Again     []gapEntry // what is listed at once
	AgainRest []gapEntry
	Absent    []digest.Gap // plants without any photo this time, told in one line where they are many
	Lists     []gapEntry
	Aside     []gapEntry
	Singles   []digest.Single
	States    []state
	EventRows []eventRow
	Effects   []effectLine
	Pooled    []pooledTable
	Sections  []template.HTML
	Cautions  []string
	GateRows  []gate.Gate
	MainLinks []Link
}

// lookEntry is a plant of which watch rules ask for a look, as the first screen tells it.
type lookEntry struct {
	digest.PlantLooks
	Title, Href string
}

// newsEntry is what is new on a plant.
type newsEntry struct {
	Plant       int
	Title, Href string
	Says        []string
}

// news gathers what is new plant by plant.
func (x *index) news() (out []newsEntry) {
	at := map[int]int{}
	for _, n := range x.digest.News {
		i, ok := at[n.Plant]
		if !ok {
			i = len(out)
			at[n.Plant] = i
			out = append(out, newsEntry{Plant: n.Plant, Title: x.title(n.Plant), Href: plantFile(n.Plant)})
		}
		_, text, _ := strings.Cut(n.Sentence, ": ")
		out[i].Says = append(out[i].Says, words.Upper(text))
	}
	return out
}

// gapEntry is something that lacks, with the photo it is about small beside it.
type gapEntry struct {
	digest.Gap
	Title, Href string
	Pic         *picture
}

// topAgain is how many photos to take again are listed before the rest is folded away.
const topAgain = 8

// topFirst is how many plants of a first month are shown with their pictures.
const topFirst = 24

// topChanges is how many plants the first screen lists with their pictures before the rest is folded away.
const topChanges = 12

// manyAbsent is from how many plants without any photo on they are told in one line.
const manyAbsent = 4

// sectionBytes is what the pictures of the index' sections may weigh together, bytes of JPEG.
const sectionBytes = 900_000

// WriteFiles writes the report into a folder: the index and a page for each plant. It gives their names, from the folder.
// Pages are made on all cores; Data is only read.
func WriteFiles(dir string, d Data) ([]string, error) {
	d.defaults()
	r, err := newRenderer(newIndex(&d))
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Join(dir, "plants"), 0o755); err != nil {
		return nil, fsx.Explain(dir, err)
	}
	p, err := r.page(func(name string, page []byte) error {
		return fsx.WriteFileAtomic(filepath.Join(dir, filepath.FromSlash(name)), page, 0o644)
	})
	if err != nil {
		return nil, err
	}
	names := []string{IndexFile}
	for _, plant := range r.x.plants {
		names = append(names, plantFile(plant.Number))
	}
	return names, fsx.WriteAtomic(filepath.Join(dir, IndexFile), 0o644, func(w io.Writer) error { return r.write(w, p) })
}

// IndexFile is the name of a report's first page.
const IndexFile = "index.html"

// Write writes the index alone.
func Write(w io.Writer, d Data) error {
	d.defaults()
	r, err := newRenderer(newIndex(&d))
	if err != nil {
		return err
	}
	p, err := r.page(func(string, []byte) error { return nil })
	if err != nil {
		return err
	}
	return r.write(w, p)
}

func (r *renderer) write(w io.Writer, p *page) error {
	out := bufio.NewWriterSize(w, 1<<16)
	if err := r.tmpl.ExecuteTemplate(out, "report.html", p); err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	return out.Flush()
}

// page makes what the index shows; each plant's page is handed to keep.
func (r *renderer) page(keep func(name string, page []byte) error) (*page, error) {
	x, d := r.x, r.x.d
	p := &page{Data: d, CSS: r.css, JS: r.js, Singles: x.digest.Singles, States: x.states(), EventRows: x.eventsOf(), Effects: x.effectLines(), Pooled: x.pooledTables(),
		Cautions: Cautions(), GateRows: d.Gates, First: x.firstMonth(), Answered: x.digest.Answered, Facts: x.facts(), Changed: x.entries()}
	if len(d.Next) == 0 {
		d.Next = x.next()
	}
	for _, l := range x.digest.LooksByPlant() {
		p.Look = append(p.Look, lookEntry{l, x.title(l.Plant), plantFile(l.Plant)})
	}
	p.News = x.news()
	r.gaps(p)
	p.None = x.digest.Photos == 0 && !x.anySession() && len(p.Changed) == 0
	for _, l := range d.Links {
		if l.Plant == 0 {
			p.MainLinks = append(p.MainLinks, l)
		}
	}
	entries, err := r.plants(p, keep)
	if err != nil {
		return nil, err
	}
	for i := range p.Changed {
		if e := entries[p.Changed[i].Plant]; e != nil {
			p.Changed[i] = *e
		}
	}
	for _, k := range x.plants {
		if e := entries[k.Number]; p.First && e != nil && e.Now != nil {
			p.Gallery = append(p.Gallery, *e)
		}
	}
	p.Top = p.Changed
	if len(p.Top) > topChanges {
		p.Top, p.Rest = p.Changed[:topChanges], p.Changed[topChanges:]
	}
	return p, nil
}

// gaps sorts what lacks into what is listed at once and what is told shortly.
func (r *renderer) gaps(p *page) {
	x := r.x
	entry := func(g digest.Gap, picture bool) gapEntry {
		e := gapEntry{Gap: g, Title: x.title(g.Plant), Href: plantFile(g.Plant)}
		if g.Plant == 0 {
			e.Title = "No plant number"
		}
		if picture {
			e.Pic = r.refused(g)
		}
		return e
	}
	absent := 0
	for _, g := range x.digest.Again {
		if len(g.Photos) == 0 {
			absent++
		}
	}
	for _, g := range x.digest.Again {
		if len(g.Photos) == 0 && absent >= manyAbsent {
			p.Absent = append(p.Absent, g)
			continue
		}
		p.Again = append(p.Again, entry(g, len(p.Again) < topAgain))
	}
	if len(p.Again) > topAgain {
		p.Again, p.AgainRest = p.Again[:topAgain], p.Again[topAgain:]
	}
	for _, g := range x.digest.Lists {
		p.Lists = append(p.Lists, entry(g, false))
	}
	for _, g := range x.digest.Aside {
		p.Aside = append(p.Aside, entry(g, false))
	}
}

// refusedSide is the longer side of the picture of a photo that did not do, px.
const refusedSide = 220

// refused is the first photo of a gap, small: what was measured of it, else the photo itself.
func (r *renderer) refused(g digest.Gap) *picture {
	for _, ref := range g.Photos {
		p := r.x.bySHA(ref.SHA256)
		if p == nil {
			continue
		}
		alt := "The photo " + p.Name
		if m := r.pics.decode(p.SHA256, func(image.Rectangle) int { return refusedSide }, "plain", "overlay"); m != nil {
			return small(m, refusedSide, alt)
		}
		if r.x.d.Original != nil {
			if m := r.x.d.Original(p); m != nil {
				return small(m, refusedSide, alt)
			}
		}
	}
	return nil
}

//go:embed assets/report.js
var ownScript string

// Script is the one script of a report's pages.
func Script() string { return chart.Script + ownScript }

func newRenderer(x *index) (*renderer, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"lower": words.Lower, "long": words.LongDay, "short": words.UnbrokenDay, "kind": words.EventDone, "first": words.Upper, "gate": gateLimit, "view": words.View, "plantfile": plantFile,
		"quantity": func(name record.QuantityName) string { return words.Upper(quantity.Of(name, "").Title) },
		"percent":  func(v float64) float64 { return 100 * v },
		"count":    words.Count,
		"day":      func(since string) string { return strings.TrimPrefix(since, "since ") },
	}).ParseFS(assets, "assets/*.html")
	if err != nil {
		return nil, fmt.Errorf("report template: %w", err)
	}
	css, err := assets.ReadFile("assets/report.css")
	if err != nil {
		return nil, err
	}
	views, sessions := len(x.views), 0
	for k := range x.views {
		sessions += len(x.counted(k))
	}
	r := &renderer{x: x, tmpl: t, css: template.CSS(css), js: template.JS(Script()), extra: len(x.plants) <= smallCollection,
		inIndex: map[int]bool{}, pictured: map[int]bool{}}
	r.thumbs = r.extra && sessions <= maxThumbs
	r.pics = newPictures(x.d.Picture, 2*views+len(x.plants)/2)
	r.pics.whole = x.d.Whole
	for i, p := range x.digest.Plants {
		r.inIndex[p.Number] = true
		r.pictured[p.Number] = i < topChanges
	}
	if x.firstMonth() {
		for _, p := range x.plants[:min(len(x.plants), topFirst)] {
			r.pictured[p.Number] = true
		}
	}
	for _, l := range x.digest.Looks {
		r.inIndex[l.Plant] = r.inIndex[l.Plant] || !l.Near
	}
	r.section = sectionWidth(len(r.inIndex))
	return r, nil
}

// Widths of the pictures of a section, px (chosen by eye at 390 and 1280 px).
const leastSectionPx, mostSectionPx = 150, 420

// sectionWidth is how wide the pictures of n sections of the index may be, px.
func sectionWidth(n int) int {
	px := float64(sectionBytes) / float64(max(1, 2*n)) * 8 / jpegBitsPerPx
	return min(max(int(math.Sqrt(px*pagePairW/pagePairH)), leastSectionPx), mostSectionPx)
}

// plants writes every plant's page, on as many goroutines as there are cores, and makes the sections of the index and the
// entries of its first screen, with their pictures.
func (r *renderer) plants(p *page, keep func(name string, page []byte) error) (map[int]*entry, error) {
	plants := r.x.plants
	sections, entries, errs := make([]template.HTML, len(plants)), make([]*entry, len(plants)), make([]error, len(plants))
	next := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				sections[i], entries[i], errs[i] = r.plant(i, keep)
			}
		})
	}
	for i := range plants {
		next <- i
	}
	close(next)
	wg.Wait()
	out := map[int]*entry{}
	at := map[int]template.HTML{}
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("page of plant %d: %w", plants[i].Number, err)
		}
		out[plants[i].Number], at[plants[i].Number] = entries[i], sections[i]
	}
	listed := map[int]bool{}
	add := func(n int) {
		if s := at[n]; s != "" && !listed[n] {
			listed[n] = true
			p.Sections = append(p.Sections, s)
		}
	}
	for _, e := range p.Changed { // in the order of the first screen
		add(e.Plant)
	}
	for _, l := range p.Look {
		add(l.Plant)
	}
	return out, nil
}

// plantFilePage is what the template of a plant's page sees.
type plantFilePage struct {
	*plantPage
	Collection, Title, Version string
	Made                       time.Time
	FDR                        float64
	CSS                        template.CSS
	JS                         template.JS
	Before, After              *record.Plant // by number
}

// plant makes one plant's page and, where the index shows it, its section.
func (r *renderer) plant(i int, keep func(name string, page []byte) error) (section template.HTML, e *entry, err error) {
	p := r.x.plants[i]
	m, err := r.plantPage(p)
	if err != nil {
		return "", nil, err
	}
	d := r.x.d
	f := plantFilePage{plantPage: m, Collection: d.Collection, Title: d.Title, Version: d.Version, Made: d.Made, FDR: d.FDR, CSS: r.css, JS: r.js}
	if i > 0 {
		f.Before = &r.x.plants[i-1]
	}
	if i+1 < len(r.x.plants) {
		f.After = &r.x.plants[i+1]
	}
	var b bytes.Buffer
	if err := r.tmpl.ExecuteTemplate(&b, "plant.html", f); err != nil {
		return "", nil, err
	}
	if err := keep(m.Href, b.Bytes()); err != nil {
		return "", nil, err
	}
	if e = m.Entry; e == nil && m.First != nil {
		e = &entry{Plant: p.Number, Name: m.Name, Href: m.Href, Now: m.First}
	}
	if m.Lead == nil {
		return "", e, nil
	}
	b.Reset()
	if err := r.tmpl.ExecuteTemplate(&b, "section", m); err != nil {
		return "", nil, err
	}
	return template.HTML(b.String()), e, nil
}

// firstMonth says that no plant has a change to compare yet.
func (x *index) firstMonth() bool {
	for _, c := range x.d.Changes {
		if c.Verdict != record.TooFew {
			return false
		}
	}
	return true
}

// anySession says whether anything was measured in the period.
func (x *index) anySession() bool {
	return slices.ContainsFunc(x.d.Sessions, func(s record.Session) bool { return x.d.inPeriod(s.Date) })
}

// gateLimit is what happens to a photo at a gate, in words.
func gateLimit(g gate.Gate) string {
	switch {
	case g.Status == record.Rejected:
		return "not measured"
	case g.NotCounted:
		return "measured, not counted"
	}
	return "counted, with care"
}
