package digest

import (
	"cmp"
	"slices"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// LinesWait are parts of a plant that had lines before and have none on its latest photo: they are not measured there until
// somebody takes or draws their lines.
type LinesWait struct {
	Plant     int
	Name      string
	View      record.View
	Day       string // of the photo that waits
	SHA256    string
	PhotoName string
	Parts     []string
}

// LinesCount counts the lines that wait.
func (d *Digest) LinesCount() int {
	n := 0
	for _, w := range d.Waits {
		n += len(w.Parts)
	}
	return n
}

// waits finds the parts whose lines wait on the latest photos of the period.
func (d *Digest) waits(in Input) {
	type viewOf struct {
		plant int
		view  record.View
	}
	followed := map[int][]record.Part{}
	for _, p := range in.Parts {
		followed[p.Plant] = append(followed[p.Plant], p)
	}
	latest := map[viewOf]*record.Photo{}
	seen := map[viewOf]map[string]string{} // the last day of each part
	for i := range in.Photos {
		p := &in.Photos[i]
		day, k := p.Taken.Day(), viewOf{p.Plant, p.View}
		if len(followed[p.Plant]) == 0 || day == "" || d.To != "" && day > d.To || !gate.Counts(p.Status, p.Reasons) {
			continue
		}
		if l := latest[k]; l == nil || day > l.Taken.Day() {
			latest[k] = p
		}
		for _, q := range p.Quantities {
			if q.Part == "" {
				continue
			}
			if seen[k] == nil {
				seen[k] = map[string]string{}
			}
			seen[k][q.Part] = max(seen[k][q.Part], day)
		}
	}
	for k, p := range latest {
		day := p.Taken.Day()
		if !d.holds(day) {
			continue
		}
		w := LinesWait{Plant: k.plant, Name: nameOf(in.Plants, k.plant), View: k.view, Day: day, SHA256: p.SHA256, PhotoName: p.Name}
		for _, part := range followed[k.plant] {
			last := ""
			for name, on := range seen[k] {
				if record.SamePart(name, part.Part) {
					last = max(last, on)
				}
			}
			if last != "" && last < day && !part.Gone(day) {
				w.Parts = append(w.Parts, part.Part)
			}
		}
		if len(w.Parts) > 0 {
			d.Waits = append(d.Waits, w)
		}
	}
	slices.SortFunc(d.Waits, func(a, b LinesWait) int { return cmp.Or(cmp.Compare(a.Plant, b.Plant), cmp.Compare(a.View, b.View)) })
}

func nameOf(plants []record.Plant, n int) string {
	for _, p := range plants {
		if p.Number == n {
			return p.Name
		}
	}
	return ""
}
