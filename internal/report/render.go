package report

import (
	"bufio"
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"runtime"
	"slices"
	"sync"

	"phototrack/internal/chart"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

//go:embed assets
var assets embed.FS

// smallCollection is the number of plants up to which every quantity is charted and each session has its small photo;
// above it only what tells most, so that the page of a full garden stays light.
const smallCollection = 12

// maxThumbs bounds the small photos of sessions: at about 4 KB each they then weigh under 1.5 MB.
const maxThumbs = 300

// renderer makes the plants' sections.
type renderer struct {
	x      *index
	pics   *pictures
	extra  bool // chart more than the main quantities
	thumbs bool // a small photo per session
	tmpl   *template.Template
}

// page is what the template of the whole report sees.
type page struct {
	*Data
	CSS        template.CSS
	JS         template.JS
	First      bool // no change can be told yet
	None       bool // no photo of the period counts
	Facts      []fact
	Changed    []changedPlant
	Top, Rest  []changedPlant
	Look       []look
	Answered   int
	Again      []again // what is listed at once
	AgainRest  []again
	Singles    []single
	States     []state
	Since      string // what the table of plants compares with
	EventRows  []eventRow
	Effects    []effectLine
	Pooled     []pooledTable
	Sections   []template.HTML
	Cautions   []string
	GateRows   []gate.Gate
	MainLinks  []Link
	PlantIndex []record.Plant
}

// topAgain is how many photos to take again are listed before the rest is folded away.
const topAgain = 8

// topChanges is how many plants the first screen lists before the rest is folded away.
const topChanges = 12

// Write writes the report as one HTML file. Plants' sections are made on all cores; Data is only read.
func Write(w io.Writer, d Data) error {
	d.defaults()
	x := newIndex(&d)
	r, err := newRenderer(x)
	if err != nil {
		return err
	}
	p := page{Data: &d, Changed: x.changed(), Again: x.photographAgain(), Singles: x.singles(), States: x.states(), Since: map[string]string{record.BasisLast: "last session", record.BasisBaseline: "the baseline"}[d.stateBasis()], EventRows: x.eventsOf(),
		Effects: x.effectLines(), Pooled: x.pooledTables(), Cautions: Cautions(), GateRows: d.Gates, First: x.firstMonth()}
	if len(d.Next) == 0 {
		d.Next = x.next()
	}
	p.Look, p.Answered = x.needsLook()
	p.Facts = x.facts(p.Changed, p.Look, p.Again)
	_, photos := x.used()
	p.None = photos == 0 && !x.anySession() && len(p.Changed) == 0
	p.Top, p.Rest = p.Changed, nil
	if len(p.Top) > topChanges {
		p.Top, p.Rest = p.Changed[:topChanges], p.Changed[topChanges:]
	}
	if len(p.Again) > topAgain {
		p.Again, p.AgainRest = p.Again[:topAgain], p.Again[topAgain:]
	}
	for _, l := range d.Links {
		if l.Plant == 0 {
			p.MainLinks = append(p.MainLinks, l)
		}
	}
	css, err := assets.ReadFile("assets/report.css")
	if err != nil {
		return err
	}
	js, err := assets.ReadFile("assets/report.js")
	if err != nil {
		return err
	}
	p.CSS, p.JS = template.CSS(css), template.JS(chart.Script+string(js))
	if p.Sections, err = r.sections(); err != nil {
		return err
	}
	out := bufio.NewWriterSize(w, 1<<16)
	if err := r.tmpl.ExecuteTemplate(out, "report.html", p); err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	return out.Flush()
}

// WriteFile writes the report beside its final name and moves it there when it is whole.
func WriteFile(path string, d Data) error {
	return fsx.WriteAtomic(path, 0o644, func(w io.Writer) error { return Write(w, d) })
}

func newRenderer(x *index) (*renderer, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"lower": viewLower, "long": longDay, "short": shortDay, "kind": KindWords, "first": upperFirst, "gate": gateLimit,
		"quantity": func(name string) string { return upperFirst(quantity.Of(name, "").Title) },
		"percent":  func(v float64) float64 { return 100 * v },
	}).ParseFS(assets, "assets/*.html")
	if err != nil {
		return nil, fmt.Errorf("report template: %w", err)
	}
	views, sessions := len(x.views), 0
	for k := range x.views {
		sessions += len(x.counted(k))
	}
	r := &renderer{x: x, tmpl: t, extra: len(x.plants) <= smallCollection}
	r.thumbs = r.extra && sessions <= maxThumbs
	r.pics = newPictures(x.d.Picture, 2*views+len(x.plants)/2)
	r.pics.whole = x.d.Whole
	return r, nil
}

// sections renders every plant, on as many goroutines as there are cores, in the order of their numbers.
func (r *renderer) sections() ([]template.HTML, error) {
	out := make([]template.HTML, len(r.x.plants))
	errs := make([]error, len(r.x.plants))
	next := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				out[i], errs[i] = r.section(r.x.plants[i])
			}
		})
	}
	for i := range r.x.plants {
		next <- i
	}
	close(next)
	wg.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("section of plant %d: %w", r.x.plants[i].Number, err)
		}
	}
	return out, nil
}

func (r *renderer) section(p record.Plant) (template.HTML, error) {
	m, err := r.plantPage(p)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	if err := r.tmpl.ExecuteTemplate(&b, "plant.html", m); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
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

func viewLower(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]|0x20) + s[1:]
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
