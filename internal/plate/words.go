package plate

import (
	"fmt"
	"math"
	"strings"
	"text/template"
	"time"
)

// Words is what the templates of a plate's title and caption may name, e.g. "{{.Plant}} {{.Name}}, {{.From}} to {{.To}}".
type Words struct {
	Plant      int
	Name       string
	Group      string
	Collection string
	From, To   string   // first and last day shown, in words
	Dates      []string // all days shown, in words
	Events     []string // what was done in between
	Scale      string   // "1 : 2" on an exact plate, else ""
	View       string   // leaf | root
}

// The templates that stand in the settings until the grower writes others.
const (
	DefaultTitle   = `{{if .Plant}}{{.Plant}}  {{end}}{{.Name}}`
	DefaultCaption = `{{.From}}{{if ne .From .To}} to {{.To}}{{end}}. Same scale, same colour correction, same framing.{{if .Scale}} Printed {{.Scale}}.{{end}}`
)

// fill runs a template of the grower's; a fault in it is named and costs the plate, not the program.
func fill(name, text, fallback string, w Words) (string, error) {
	if strings.TrimSpace(text) == "" {
		text = fallback
	}
	t, err := template.New(name).Option("missingkey=error").Parse(text)
	if err != nil {
		return "", fmt.Errorf("template of the plate's %s: %w", name, err)
	}
	var b strings.Builder
	if err := t.Execute(&b, w); err != nil {
		return "", fmt.Errorf("template of the plate's %s: %w", name, err)
	}
	return strings.Join(strings.Fields(b.String()), " "), nil
}

// days completes the words with the days shown.
func (s *Spec) days() Words {
	w := s.Words
	var first, last string
	seen := map[string]bool{}
	for _, f := range s.frames() {
		if f.Date == "" {
			continue
		}
		if !seen[f.Date] {
			seen[f.Date] = true
			w.Dates = append(w.Dates, dayWords(f.Date))
		}
		if first == "" || f.Date < first {
			first = f.Date
		}
		last = max(last, f.Date)
	}
	w.From, w.To = dayWords(first), dayWords(last)
	for _, r := range s.Rows {
		for _, e := range r.Events {
			w.Events = append(w.Events, dayWords(e.Date)+" "+e.Kind)
		}
	}
	return w
}

// dayWords writes 2026-04-18 as "18 April 2026".
func dayWords(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("2 January 2006")
}

// barLength is the round length, mm, that comes nearest to a fifth of what a panel shows.
func barLength(panelMM float64) float64 {
	want := panelMM / 5
	best := 1.0
	for e := -1.0; e < 4; e++ {
		for _, m := range []float64{1, 2, 5} {
			if v := m * math.Pow(10, e); math.Abs(math.Log(v/want)) < math.Abs(math.Log(best/want)) {
				best = v
			}
		}
	}
	return best
}

// ratios are the round scales of exact plates: paper mm to plant mm, largest first.
var ratios = []float64{1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30, 40, 50}

// exactScale is the largest round scale that is not above the given px per mm; dpi are the paper's. The words are
// those of the caption.
func exactScale(scale, dpi float64) (float64, string) {
	paper := dpi / 25.4
	for _, r := range ratios {
		if paper/r <= scale*1.0000001 {
			return paper / r, fmt.Sprintf("1 : %g", r)
		}
	}
	return scale, ""
}
