package publish

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/caption"
	"phototrack/internal/change"
	"phototrack/internal/codec"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/series"
)

// platePanels is how many dates a plate shows: the first, the last, and those between that part the time evenly.
const platePanels = 6

// writePlates writes the month's plates: for each plant and view with a photo in the period and an earlier one. Plates
// are made side by side, as many at once as there are processors.
func writePlates(ctx context.Context, c *collection.Collection, st *series.Store, photos []record.Photo, an change.Analysis, dir string) ([]report.Link, error) {
	type task struct {
		plant record.Plant
		view  record.View
		list  []*record.Photo
	}
	var tasks []task
	for _, p := range c.Plants {
		for _, view := range []record.View{record.Leaf, record.Root} {
			if list := counted(photos, p.Number, view, an.To); len(list) >= 2 && list[len(list)-1].Taken.Day() >= an.From {
				tasks = append(tasks, task{p, view, spread(list, platePanels)})
			}
		}
	}
	made, walls := make([]bool, len(tasks)), make([]bool, len(tasks))
	errs := make([]error, len(tasks))
	name := func(t task) string { return fmt.Sprintf("%03d_%s.png", t.plant.Number, t.view) }
	inParallel(ctx, len(tasks), func(i int) {
		t := tasks[i]
		row, ok := plateRow(ctx, c, st, t.plant, t.list, an)
		if !ok {
			return
		}
		preset, _ := plate.PresetNamed("wide")
		var b bytes.Buffer
		if err := plate.WritePNG(&b, newSpec(c, preset, t.plant, t.view, row)); err != nil {
			return // a plant whose pictures cannot be aligned has no plate; its section shows the photos
		}
		errs[i] = fsx.WriteFileAtomic(filepath.Join(dir, "plates", name(t)), b.Bytes(), 0o644)
		made[i] = errs[i] == nil
		if t.view == record.Root && errs[i] == nil {
			walls[i], errs[i] = writeWallPlate(ctx, c, st, t.plant, t.list, an, dir)
		}
	})
	var links []report.Link
	for i, t := range tasks {
		if made[i] {
			what := map[record.View]string{record.Leaf: "leaves", record.Root: "roots"}[t.view]
			links = append(links, report.Link{Text: fmt.Sprintf("Plate: %s, month by month", what), Href: "plates/" + name(t), Plant: t.plant.Number})
		}
		if walls[i] {
			links = append(links, report.Link{Text: "Plate: the pot's wall unrolled, month by month", Href: "plates/" + wallPlateName(t.plant.Number), Plant: t.plant.Number})
		}
	}
	ok, err := writeSheet(ctx, c, st, photos, an, dir)
	if ok && err == nil {
		links = append(links, report.Link{Text: "Sheet of the whole collection (PDF)", Href: "plates/" + sheetName})
	}
	return links, errors.Join(append(errs, err, ctx.Err())...)
}

// newSpec is a plate of a preset with the collection's words.
func newSpec(c *collection.Collection, preset plate.Preset, p record.Plant, view record.View, rows ...plate.Row) plate.Spec {
	t := caption.Texts(c.Settings.Plates)
	return plate.Spec{Preset: preset, Texts: &t, Words: words(c, p, view), Rows: rows}
}

func words(c *collection.Collection, p record.Plant, view record.View) caption.Words {
	w := caption.Words{Plant: p.Number, Name: p.Name, Group: p.Group, View: string(view), Collection: c.Settings.Report.Title}
	if w.Collection == "" {
		w.Collection = filepath.Base(c.Dir)
	}
	return w
}

// label is a plant's number and, where it has one, its name.
func label(p record.Plant) string { return strings.TrimSpace(fmt.Sprint(p.Number, " ", p.Name)) }

// spread picks at most n of a list, the first and last among them, evenly.
func spread(list []*record.Photo, n int) []*record.Photo {
	if len(list) <= n {
		return list
	}
	var out []*record.Photo
	for i := range n {
		out = append(out, list[i*(len(list)-1)/(n-1)])
	}
	return out
}

func plateRow(ctx context.Context, c *collection.Collection, st *series.Store, p record.Plant, list []*record.Photo, an change.Analysis) (plate.Row, bool) {
	row := plate.Row{Label: label(p)}
	for _, ph := range list {
		data, ok, err := st.Picture(ctx, ph.SHA256, "plain")
		if err != nil || !ok {
			continue
		}
		img, err := codec.ReadJPEG(data)
		if err != nil {
			continue
		}
		whole, ok, err := st.Get(ctx, ph.SHA256) // with its outlines, which the list of all photos lacks
		if err != nil || !ok {
			continue
		}
		f, ok := plate.FromPhoto(&whole, img)
		if !ok {
			continue
		}
		f.Name = p.Name
		f.Values = values(ph, an)
		row.Frames = append(row.Frames, f)
	}
	for _, e := range c.Events {
		if e.Plant == p.Number {
			row.Events = append(row.Events, e)
		}
	}
	return row, len(row.Frames) >= 2
}

// values are the lines under a panel: the session's main numbers with their intervals.
func values(p *record.Photo, an change.Analysis) []string {
	names := []string{"leaf_area", "purple_share", "yellow_share", "brown_share"}
	if p.View == record.Root {
		names = []string{"root_length", "root_longest"}
	}
	var out []string
	for _, n := range names {
		for _, s := range an.Sessions {
			if s.Plant == p.Plant && s.View == p.View && s.Date == p.Taken.Day() && s.Quantity == n && (n == names[0] || s.Value > s.U95) {
				info := quantity.Of(s.Quantity, s.Unit)
				out = append(out, info.Title+" "+info.Value(s.Value, s.U95))
			}
		}
	}
	return out[:min(3, len(out))]
}

func classRows(s collection.ClassSettings) []report.ClassRow {
	var out []report.ClassRow
	for _, k := range pipeline.ClassTable(s).Classes {
		out = append(out, report.ClassRow{Name: k.Name, FromDeg: k.FromDeg, ToDeg: k.ToDeg, Reason: k.Reason})
	}
	return out
}

// PlateOptions say what a plate shows.
type PlateOptions struct {
	Plants []int       // one, or several against each other
	Dates  []string    // sessions to show, YYYY-MM-DD or YYYY-MM; empty: up to six, the first and last among them
	View   record.View // "": leaf where there are leaf photos, else root
	Preset string      // screen, square, a4, wide
	PDF    bool        // exact scale, text as text
	Moving bool        // a moving picture (GIF) of one plant
	Out    string      // folder
}

// ErrNoPhotos says that a plate would show nothing.
var ErrNoPhotos = errors.New("no photos to show")

// Plate writes one plate, or moving picture, and gives its path.
func Plate(ctx context.Context, c *collection.Collection, st *series.Store, o PlateOptions) (string, error) {
	photos, err := st.All(ctx)
	if err != nil {
		return "", err
	}
	preset, ok := plate.PresetNamed(o.Preset)
	if !ok {
		return "", &fsx.HintError{What: fmt.Sprintf("%q is not a preset", o.Preset), Hint: "Use screen, square, a4 or wide."}
	}
	an := Analyze(c, photos, nil, "", "")
	spec := newSpec(c, preset, record.Plant{}, "")
	spec.Exact = o.PDF
	name := "plate"
	for _, n := range o.Plants {
		p, listed := c.Plant(n)
		if !listed {
			return "", &fsx.HintError{What: fmt.Sprintf("plant %d is not in plants.csv", n), Hint: "Give a number that is listed there."}
		}
		view := o.View
		if view == "" {
			view = record.Leaf
			if len(counted(photos, n, view, "")) == 0 {
				view = record.Root
			}
		}
		row, ok := plateRow(ctx, c, st, p, chosen(counted(photos, n, view, ""), o.Dates), an)
		if !ok && len(row.Frames) == 0 {
			return "", &fsx.HintError{What: fmt.Sprintf("plant %d has no photo that counts on the chosen dates", n), Hint: "Look at sessions.csv for its dates, or measure its photos first.", Err: ErrNoPhotos}
		}
		spec.Rows = append(spec.Rows, row)
		spec.Words = words(c, p, view)
		name += fmt.Sprintf("_%03d_%s", n, view)
	}
	if len(o.Plants) > 1 {
		spec.Words.Plant, spec.Words.Name = 0, rowLabels(spec.Rows)
	}
	if err := os.MkdirAll(o.Out, 0o755); err != nil {
		return "", fsx.Explain(o.Out, err)
	}
	var b bytes.Buffer
	switch {
	case o.Moving:
		name += ".gif"
		err = plate.Animate(&b, spec.Rows[0].Frames, plate.Motion{Title: spec.Rows[0].Label})
	case o.PDF:
		name += ".pdf"
		err = plate.WritePDF(&b, spec)
	default:
		name += "_" + preset.Name + ".png"
		err = plate.WritePNG(&b, spec)
	}
	if err != nil {
		return "", err
	}
	path := filepath.Join(o.Out, name)
	return path, fsx.WriteFileAtomic(path, b.Bytes(), 0o644)
}

func rowLabels(rows []plate.Row) string {
	s := ""
	for i, r := range rows {
		if i > 0 {
			s += " and "
		}
		s += r.Label
	}
	return s
}

// chosen keeps the sessions on the wanted dates (a month stands for its first session), all spread where none is wanted.
func chosen(list []*record.Photo, dates []string) []*record.Photo {
	if len(dates) == 0 {
		return spread(list, platePanels)
	}
	var out []*record.Photo
	for _, d := range dates {
		for _, p := range list {
			if strings.HasPrefix(p.Taken.Day(), d) {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// Round writes the sheet for the next round of photos, as a page and as a PDF, and gives their paths.
func Round(ctx context.Context, c *collection.Collection, st *series.Store, dir, version string) ([]string, error) {
	photos, err := st.All(ctx)
	if err != nil {
		return nil, err
	}
	from, to, _, err := Period{}.resolve(photos)
	if err != nil {
		return nil, err
	}
	d := reportData(ctx, c, st, photos, Analyze(c, photos, nil, from, to), version)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fsx.Explain(dir, err)
	}
	page, pdf := filepath.Join(dir, "round.html"), filepath.Join(dir, "round.pdf")
	if err := report.WriteRoundFile(page, d); err != nil {
		return nil, err
	}
	return []string{page, pdf}, report.WriteRoundPDFFile(pdf, d)
}
