package publish

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/caption"
	"phototrack/internal/change"
	"phototrack/internal/codec"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/pixels"
	"phototrack/internal/plate"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/series"
	"phototrack/internal/words"
)

// platePanels is how many dates a plate shows: the first, the last, and those between that part the time evenly.
const platePanels = 6

// atelier is what plates of a collection are made of.
type atelier struct {
	c       *collection.Collection
	st      *series.Store
	shelf   shelf
	figures figures
	an      change.Analysis
	kept    *kept
}

func newAtelier(s Source, an change.Analysis) *atelier {
	return &atelier{c: s.Collection, st: s.Store, shelf: newShelf(s.Photos), figures: newFigures(an), an: an}
}

// plateTask is a plant's view with a photo in the period and an earlier one.
type plateTask struct {
	plant record.Plant
	view  record.View
	list  []*record.Photo
}

func (t plateTask) name() string { return fmt.Sprintf("plates/%03d_%s.png", t.plant.Number, t.view) }

func (a *atelier) tasks() (out []plateTask) {
	for _, p := range a.c.Plants {
		for _, view := range []record.View{record.Leaf, record.Root} {
			if list := a.shelf.counted(p.Number, view, a.an.To); len(list) >= 2 && list[len(list)-1].Taken.Day() >= a.an.From {
				out = append(out, plateTask{p, view, spread(list, platePanels)})
			}
		}
	}
	return out
}

// writePlates writes the month's plates into a report's folder: for each plant and view with a photo in the period and
// an earlier one, and the sheet of the collection. They are made side by side, as many at once as there are processors;
// what would come out the same as before stays.
func (a *atelier) writePlates(ctx context.Context, dir string) ([]report.Link, error) {
	a.kept = openKept(dir)
	tasks := a.tasks()
	made, walls, sheet := make([]bool, len(tasks)), make([]bool, len(tasks)), false
	errs := make([]error, len(tasks)+1)
	inParallel(ctx, len(tasks)+1, func(i int) {
		if i == 0 { // takes longest, so it comes first
			sheet, errs[0] = a.writeSheet(ctx)
			return
		}
		t := tasks[i-1]
		made[i-1], errs[i] = a.writePlate(ctx, t)
		if t.view == record.Root && made[i-1] && errs[i] == nil {
			walls[i-1], errs[i] = a.writeWallPlate(ctx, t)
		}
	})
	var links []report.Link
	for i, t := range tasks {
		if made[i] {
			links = append(links, report.Link{Text: fmt.Sprintf("Plate: %s, month by month", words.Lower(words.View(t.view))), Href: t.name(), Plant: t.plant.Number})
		}
		if walls[i] {
			links = append(links, report.Link{Text: "Plate: the pot's wall unrolled, month by month", Href: wallPlateName(t.plant.Number), Plant: t.plant.Number})
		}
	}
	if sheet {
		links = append(links, report.Link{Text: "Sheet of the whole collection (PDF)", Href: sheetName})
	}
	return links, errors.Join(append(errs, a.kept.save(notDone), ctx.Err())...)
}

// writePlate writes a plant's photos side by side; ok is false where there is no such plate.
func (a *atelier) writePlate(ctx context.Context, t plateTask) (ok bool, err error) {
	preset, _ := plate.PresetNamed("fit")
	row := plate.Row{Label: label(t.plant), Events: a.events(t.plant.Number)}
	s := newSpec(a.c, preset, t.plant, t.view, row)
	from := a.inputs(ctx, s, t.list, pipeline.PicturePlain, t.plant)
	if a.kept.stays(t.name(), from) {
		return true, nil
	}
	s.Rows[0], ok = a.plateRow(ctx, t.plant, t.list)
	defer func() {
		for _, f := range s.Rows[0].Frames {
			pixels.Done(f.Image.(*image.NRGBA))
		}
	}()
	if !ok {
		return false, nil
	}
	var b bytes.Buffer
	if err := plate.WritePNG(&b, s); err != nil {
		return false, nil // a plant whose pictures cannot be aligned has no plate; its section shows the photos
	}
	err = a.kept.write(t.name(), from, b.Bytes())
	return err == nil, err
}

// inputs is the hash of all that a plate without frames, its plants and the photos for it come to.
func (a *atelier) inputs(ctx context.Context, s plate.Spec, list []*record.Photo, kind string, plants ...record.Plant) string {
	in := newInputs(s.Preset, s.Texts, s.Words, s.Rows, plants)
	for _, p := range list {
		in.photo(ctx, a.st, p, kind, a.figures.values(p))
	}
	return in.sum()
}

// events are what was done to a plant.
func (a *atelier) events(plant int) (out []record.Event) {
	for _, e := range a.c.Events {
		if e.Plant == plant {
			out = append(out, e)
		}
	}
	return out
}

// newSpec is a plate of a preset with the collection's words.
func newSpec(c *collection.Collection, preset plate.Preset, p record.Plant, view record.View, rows ...plate.Row) plate.Spec {
	t := caption.Texts(c.Settings.Plates)
	return plate.Spec{Preset: preset, Texts: &t, Words: captionWords(c, p, view), Rows: rows}
}

// captionWords are what templates of captions may name.
func captionWords(c *collection.Collection, p record.Plant, view record.View) caption.Words {
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

// plateRow is a plant's row of photos; ok is false where there are fewer than two.
func (a *atelier) plateRow(ctx context.Context, p record.Plant, list []*record.Photo) (plate.Row, bool) {
	row := plate.Row{Label: label(p), Events: a.events(p.Number)}
	for _, ph := range list {
		if f, ok := a.frame(ctx, p, ph, opened); ok {
			row.Frames = append(row.Frames, f)
		}
	}
	return row, len(row.Frames) >= 2
}

// opened is a stored picture, in room that is used again.
func opened(data []byte) (image.Image, error) {
	m, err := codec.ReadJPEGInto(data, pixels.New)
	if err != nil {
		return nil, err
	}
	return m, nil
}

// frame is a photo with its values.
func (a *atelier) frame(ctx context.Context, p record.Plant, ph *record.Photo, open func([]byte) (image.Image, error)) (plate.Frame, bool) {
	data, ok, err := a.st.Picture(ctx, ph.SHA256, pipeline.PicturePlain)
	if err != nil || !ok {
		return plate.Frame{}, false
	}
	img, err := open(data)
	if err != nil {
		return plate.Frame{}, false
	}
	whole, ok, err := a.st.Get(ctx, ph.SHA256) // with its outlines, which the list of all photos lacks
	if err != nil || !ok {
		return plate.Frame{}, false
	}
	f, ok := plate.FromPhoto(&whole, img)
	f.Name, f.Values = p.Name, a.figures.values(ph)
	return f, ok
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
	Plants  []int       // one, or several against each other
	Dates   []string    // sessions to show, YYYY-MM-DD or YYYY-MM; empty: up to six, the first and last among them
	View    record.View // "": leaf where there are leaf photos, else root
	Preset  string      // screen, square, tall, a4, wide, fit
	Title   string      // of this plate, "" for the template's; likewise Caption
	Caption string
	PDF     bool   // exact scale, text as text
	Moving  bool   // a moving picture (GIF), plants side by side
	Out     string // folder
}

// ErrNoPhotos says that a plate would show nothing.
var ErrNoPhotos = errors.New("no photos to show")

// Plate writes one plate, or moving picture, and gives its path.
func Plate(ctx context.Context, c *collection.Collection, st *series.Store, o PlateOptions) (string, error) {
	src, err := sourceOf(ctx, c, st, "")
	if err != nil {
		return "", err
	}
	preset, ok := plate.PresetNamed(o.Preset)
	if !ok {
		return "", &fsx.HintError{What: fmt.Sprintf("%q is not a preset", o.Preset), Hint: "Use screen, square, tall, a4, wide or fit."}
	}
	a := newAtelier(src, Analyze(c, src.Photos, nil, "", ""))
	spec := newSpec(c, preset, record.Plant{}, "")
	spec.Exact = o.PDF
	if err := o.words(spec.Texts); err != nil {
		return "", err
	}
	name := "plate"
	for _, n := range o.Plants {
		p, listed := c.Plant(n)
		if !listed {
			return "", &fsx.HintError{What: fmt.Sprintf("plant %d is not in plants.csv", n), Hint: "Give a number that is listed there."}
		}
		view := a.viewOf(n, o.View)
		row, ok := a.plateRow(ctx, p, chosen(a.shelf.counted(n, view, ""), o.Dates))
		if !ok && len(row.Frames) == 0 {
			return "", &fsx.HintError{What: fmt.Sprintf("plant %d has no photo that counts on the chosen dates", n), Hint: "Look at sessions.csv for its dates, or measure its photos first.", Err: ErrNoPhotos}
		}
		spec.Rows = append(spec.Rows, row)
		spec.Words = captionWords(c, p, view)
		name += fmt.Sprintf("_%03d_%s", n, view)
	}
	for _, d := range o.Dates { // plates of other dates have other names, and none overwrites another
		name += "_" + collection.SafeName(strings.TrimSpace(d))
	}
	if len(o.Plants) > 1 {
		spec.Words.Plant, spec.Words.Name = 0, rowLabels(spec.Rows)
	}
	if err := os.MkdirAll(o.Out, 0o755); err != nil {
		return "", fsx.Explain(o.Out, err)
	}
	var b bytes.Buffer
	end, err := o.write(&b, spec)
	if err != nil {
		return "", err
	}
	path := filepath.Join(o.Out, name+end)
	return path, fsx.WriteFileAtomic(path, b.Bytes(), 0o644)
}

// words puts the title and the caption that were given for this plate in the place of the templates'.
func (o *PlateOptions) words(to *caption.Texts) error {
	for _, own := range []struct {
		text string
		to   *string
	}{{o.Title, &to.Title}, {o.Caption, &to.Caption}} {
		if own.text == "" {
			continue
		}
		if _, err := caption.Parse(own.text); err != nil {
			return &fsx.HintError{What: "these words cannot be put on the plate: " + err.Error(), Hint: "Write plain words; fields such as {{.Name}} are listed in settings.toml."}
		}
		*own.to = own.text
	}
	return nil
}

// write writes the plate in the wanted form, and gives the end of the file's name.
func (o *PlateOptions) write(w io.Writer, spec plate.Spec) (end string, err error) {
	switch {
	case o.Moving:
		return ".gif", plate.Animate(w, spec.Rows, plate.Motion{})
	case o.PDF:
		return ".pdf", plate.WritePDF(w, spec)
	}
	return "_" + spec.Preset.Name + ".png", plate.WritePNG(w, spec)
}

// viewOf is the wanted view of a plant; where none is said, of leaves if there are photos of them, else of roots.
func (a *atelier) viewOf(plant int, wanted record.View) record.View {
	switch {
	case wanted != "":
		return wanted
	case len(a.shelf.counted(plant, record.Leaf, "")) == 0:
		return record.Root
	}
	return record.Leaf
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
	s, err := sourceOf(ctx, c, st, version)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, name := range []string{"round.html", "round.pdf"} {
		var b bytes.Buffer
		if err := s.WriteRound(ctx, &b, name == "round.pdf"); err != nil {
			return nil, err
		}
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, fsx.Explain(dir, err)
		}
		path := filepath.Join(dir, name)
		if err := fsx.WriteFileAtomic(path, b.Bytes(), 0o644); err != nil {
			return nil, err
		}
		out = append(out, path)
	}
	return out, nil
}

// WriteRound writes that sheet as a page or as a PDF.
func (s Source) WriteRound(ctx context.Context, w io.Writer, pdf bool) error {
	from, to, _, err := Period{}.resolve(s.Photos)
	if err != nil {
		return err
	}
	d := s.reportData(ctx, Analyze(s.Collection, s.Photos, nil, from, to))
	if pdf {
		return report.WriteRoundPDF(w, d)
	}
	return report.WriteRound(w, d)
}
