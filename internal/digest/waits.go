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
	followed := map[int][]record.Part{}
	for _, p := range in.Parts {
		followed[p.Plant] = append(followed[p.Plant], p)
	}
	latest, lines := d.latestLines(in.Photos, followed)
	for k, p := range latest {
		day := p.Taken.Day()
		if !d.holds(day) {
			continue
		}
		w := LinesWait{Plant: k.plant, Name: nameOf(in.Plants, k.plant), View: k.view, Day: day, SHA256: p.SHA256, PhotoName: p.Name}
		for _, part := range followed[k.plant] {
			if last := lines[k].of(part.Part); last != "" && last < day && !part.Gone(day) {
				w.Parts = append(w.Parts, part.Part)
			}
		}
		if len(w.Parts) > 0 {
			d.Waits = append(d.Waits, w)
		}
	}
	slices.SortFunc(d.Waits, func(a, b LinesWait) int { return cmp.Or(cmp.Compare(a.Plant, b.Plant), cmp.Compare(a.View, b.View)) })
}

// lastLines is the last day on which each part of a view had a line, by its name as it stands with the photo.
type lastLines map[string]string

// of is the last day of a part, "" where it never had a line.
func (l lastLines) of(part string) (last string) {
	for name, on := range l {
		if record.SamePart(name, part) {
			last = max(last, on)
		}
	}
	return last
}

// latestLines finds, up to the period's end, the latest photo that counts of each view of plants with parts, and when each part
// had its last line there.
func (d *Digest) latestLines(photos []record.Photo, followed map[int][]record.Part) (latest map[viewOf]*record.Photo, lines map[viewOf]lastLines) {
	latest, lines = map[viewOf]*record.Photo{}, map[viewOf]lastLines{}
	for i := range photos {
		p := &photos[i]
		day, k := p.Taken.Day(), viewOf{p.Plant, p.View}
		if len(followed[p.Plant]) == 0 || day == "" || d.To != "" && day > d.To || !gate.Counts(p.Status, p.Reasons) {
			continue
		}
		if l := latest[k]; l == nil || day > l.Taken.Day() {
			latest[k] = p
		}
		if lines[k] == nil {
			lines[k] = lastLines{}
		}
		for _, q := range p.Quantities {
			if q.Part != "" {
				lines[k][q.Part] = max(lines[k][q.Part], day)
			}
		}
	}
	return latest, lines
}

func nameOf(plants []record.Plant, n int) string {
	for _, p := range plants {
		if p.Number == n {
			return p.Name
		}
	}
	return ""
}
