// Package publish turns what is stored into what is read: the analysis of the photos, the month's report, its plates
// and the CSV exports, each written at once or not at all.
package publish

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/digest"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/series"
)

// ErrNothing says that there is nothing to report on.
var ErrNothing = errors.New("nothing has been measured yet")

// Period is what a report covers: a month, a range of days, or, with all empty, the latest month with a photo.
type Period struct {
	Month    string // YYYY-MM
	From, To string // YYYY-MM-DD
}

// resolve gives the period's days and the name of its folder.
func (p Period) resolve(photos []record.Photo) (from, to, folder string, err error) {
	switch {
	case p.From != "" || p.To != "":
		for _, d := range []string{p.From, p.To} {
			if _, e := time.Parse(time.DateOnly, d); e != nil && d != "" {
				return "", "", "", &fsx.HintError{What: fmt.Sprintf("%q is not a date", d), Hint: "Write it as 2026-05-14."}
			}
		}
		from, to = p.From, p.To
		first, last := span(photos)
		if from == "" {
			from = first
		}
		if to == "" {
			to = last
		}
		if from > to {
			return "", "", "", &fsx.HintError{What: fmt.Sprintf("the period ends (%s) before it begins (%s)", to, from), Hint: "Give the earlier day as --from."}
		}
		return from, to, from + "_" + to, nil
	case p.Month != "":
		from, to, err = change.Month(p.Month)
		if err != nil {
			return "", "", "", &fsx.HintError{What: fmt.Sprintf("%q is not a month", p.Month), Hint: "Write it as 2026-05."}
		}
		return from, to, p.Month, nil
	}
	_, last := span(photos)
	if last == "" {
		return "", "", "", ErrNothing
	}
	from, to, err = change.Month(last[:7])
	return from, to, last[:7], err
}

func span(photos []record.Photo) (first, last string) {
	for i := range photos {
		d := photos[i].Taken.Day()
		if d == "" || gate.DateInDoubt(&photos[i]) {
			continue
		}
		if first == "" || d < first {
			first = d
		}
		if d > last {
			last = d
		}
	}
	return
}

// Output is what a report came to.
type Output struct {
	Index     string   // the page
	Unchanged bool     // the report was there as it would be written, and was left so; nothing else is filled in then
	Files     []string // plates and exports beside it
	Headlines []string // what the first screen says, for the terminal
	Digest    digest.Digest
	Analysis  change.Analysis
}

// changeSettings hands the collection's settings to the analysis.
func changeSettings(s collection.ChangeSettings) change.Settings {
	out := change.DefaultSettings()
	out.NoiseArea, out.NoiseRootLength, out.NoiseShare = s.NoiseArea, s.NoiseRootLength, s.NoiseShare
	out.NoisePartLength, out.NoisePartWidth, out.NoisePartDeg = s.NoisePartLength, s.NoisePartWidth, s.NoisePartDeg
	out.FalseDiscovery, out.Baseline = s.FalseDiscovery, s.Baseline
	out.EventMonths, out.QuietMonths = s.EventMonths, s.QuietMonths
	return out
}

// Analyze runs the analysis of a period over all stored photos. extra are changes that are measured on two photos
// together (see between); it may be nil.
func Analyze(c *collection.Collection, photos []record.Photo, extra []record.Change, from, to string) change.Analysis {
	return change.Analyze(inputOf(c, photos, extra, from, to))
}

// Comparer compares any two days of a plant of the collection.
func Comparer(c *collection.Collection, photos []record.Photo) *change.Comparer {
	return change.NewComparer(inputOf(c, photos, nil, "", ""))
}

func inputOf(c *collection.Collection, photos []record.Photo, extra []record.Change, from, to string) change.Input {
	in := change.Input{Photos: current(c, photos), Extra: extra, Plants: c.Plants, Events: c.Events, Rules: c.Rules, Parts: c.Parts, Counts: c.Counts, From: from, To: to, Settings: changeSettings(c.Settings.Change)}
	for _, a := range c.Answers() {
		in.Answers = append(in.Answers, change.Answer{Plant: a.Plant, Rule: a.Rule, Time: a.Time, Note: a.Note})
	}
	for _, k := range c.Cards[min(1, len(c.Cards)):] {
		in.NewCards = append(in.NewCards, k.FromDate)
	}
	return in
}

// indexFile is the first page of a report.
const indexFile = report.IndexFile

// Report writes the report of a period into the collection's reports folder, with its plates and exports. One that is there,
// as it was written and from the same, is left as it is.
func Report(ctx context.Context, c *collection.Collection, st *series.Store, p Period, version string) (Output, error) {
	var out Output
	s, err := sourceOf(ctx, c, st, version)
	if err != nil {
		return out, err
	}
	if len(s.Photos) == 0 {
		return out, ErrNothing
	}
	from, to, folder, err := p.resolve(s.Photos)
	if err != nil {
		return out, err
	}
	dir := c.ReportDir(folder)
	made := s.fingerprint(from, to)
	if openKept(dir).whole(made) {
		out = Output{Index: filepath.Join(dir, indexFile), Unchanged: true}
		if _, err := os.Stat(filepath.Join(c.ReportDir(""), indexFile)); err == nil {
			return out, nil
		}
		return out, writeMonths(c, folder, titleOf(c))
	}
	if err := os.MkdirAll(filepath.Join(dir, "plates"), 0o755); err != nil {
		return out, fsx.Explain(dir, err)
	}
	an := Analyze(c, s.Photos, s.between(ctx, from, to), from, to)
	out.Analysis = an
	d := s.reportData(ctx, an)
	at := newAtelier(s, an)
	plates, err := at.writePlates(ctx, dir)
	if err != nil {
		return out, err
	}
	d.Links = append(d.Links, plates...)
	csv, err := s.writeTables(dir, an, d.Digest)
	if err != nil {
		return out, err
	}
	for _, f := range csv {
		d.Links = append(d.Links, report.Link{Text: f, Href: f})
		out.Files = append(out.Files, filepath.Join(dir, f))
	}
	out.Index = filepath.Join(dir, indexFile)
	d.Before, d.After, d.Months = neighbours(c, folder)
	pages, err := report.WriteFiles(dir, d)
	if err != nil {
		return out, err
	}
	out.Digest = *d.Digest
	out.Headlines = headlines(&out.Digest)
	if err := ctx.Err(); err != nil {
		return out, err
	}
	for _, f := range append(csv, pages...) {
		if err := at.kept.written(f); err != nil {
			return out, err
		}
	}
	if err := at.kept.save(made); err != nil {
		return out, err
	}
	return out, writeMonths(c, folder, d.Collection)
}

// mostHeadlines is how many plants that changed the terminal names.
const mostHeadlines = 8

// headlines are the first screen in sentences: a plant that changed on a line, by its surest quantity, then who needs a look
// and what to photograph again.
func headlines(d *digest.Digest) []string {
	var out []string
	for i := range d.Plants {
		if i == mostHeadlines {
			out = append(out, fmt.Sprintf("... and %d more in the report.", len(d.Plants)-i))
			break
		}
		out = append(out, d.Plants[i].Sentence(d.Plants[i].Lead()))
	}
	for i, n := range d.News {
		if i == mostHeadlines {
			out = append(out, fmt.Sprintf("... and %d more that is new.", len(d.News)-i))
			break
		}
		out = append(out, n.Sentence)
	}
	for _, l := range d.Looks {
		word := "Needs a look"
		switch {
		case l.Near:
			word = "Nearly needs a look"
		case l.Eased:
			word = "Needed a look, not dealt with yet"
		}
		who := fmt.Sprintf("plant %d", l.Plant)
		if l.Name != "" {
			who = fmt.Sprintf("%s (%d)", l.Name, l.Plant)
		}
		out = append(out, fmt.Sprintf("%s: %s: %s %s", word, who, l.Message, l.Evidence))
	}
	if n := d.LinesCount(); n > 0 {
		var who []string
		for _, w := range d.Waits {
			who = append(who, fmt.Sprintf("%s of plant %d", strings.Join(w.Parts, ", "), w.Plant))
		}
		out = append(out, fmt.Sprintf("Lines on parts that wait for you on the desk: %s.", strings.Join(who, "; ")))
	}
	if n := len(d.Again); n > 0 {
		out = append(out, fmt.Sprintf("To photograph again: %d, named in the report.", n))
	}
	return out
}

// titleOf is the collection's name for a reader.
func titleOf(c *collection.Collection) string {
	if t := c.Settings.Report.Title; t != "" {
		return t
	}
	return filepath.Base(c.Dir)
}

func (s Source) reportData(ctx context.Context, an change.Analysis) report.Data {
	c, st := s.Collection, s.Store
	d := report.Data{
		Collection: titleOf(c), Made: time.Now(), Version: s.Version,
		Plants: c.Plants, Parts: c.Parts, Events: c.Events, Photos: s.Photos, FDR: c.Settings.Change.FalseDiscovery,
		Classes: classRows(c.Settings.Classes), ColourMode: colourMode(s.Photos),
		Picture: func(sha, kind string) []byte {
			data, ok, err := st.Picture(ctx, sha, kind)
			if err != nil || !ok {
				return nil
			}
			return data
		},
		Whole: func(sha string) (record.Photo, bool) {
			p, ok, err := st.Get(ctx, sha)
			return p, ok && err == nil
		},
		PhotoLink: func(p record.Photo) string {
			rel := collection.ArchivePath(&p)
			if _, err := os.Stat(c.Path(filepath.FromSlash(rel))); err != nil {
				return ""
			}
			return "../../" + rel
		},
	}
	d.Take(an)
	for _, r := range c.Settings.Rows() {
		d.Settings = append(d.Settings, report.Setting{Name: r.Name, Value: r.Value, Default: r.Default, Why: r.Doc})
	}
	for _, p := range c.Problems {
		d.Faults = append(d.Faults, p.Error())
	}
	return d
}

// colourMode says how the colours of the cards are known: the one way, or each with its number of photos.
func colourMode(photos []record.Photo) string {
	count := map[string]int{}
	var modes []string
	for i := range photos {
		if k := photos[i].Calibration; k != nil && k.ColourMode != "" {
			if count[k.ColourMode]++; count[k.ColourMode] == 1 {
				modes = append(modes, k.ColourMode)
			}
		}
	}
	switch len(modes) {
	case 0:
		return "nominal"
	case 1:
		return modes[0]
	}
	sort.Strings(modes)
	for i, m := range modes {
		modes[i] = fmt.Sprintf("%s (%d photos)", m, count[m])
	}
	return strings.Join(modes, "; ")
}

// Export writes all CSV files and the dictionary of their columns into a folder.
func Export(ctx context.Context, c *collection.Collection, st *series.Store, dir string) ([]string, error) {
	s, err := sourceOf(ctx, c, st, "")
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fsx.Explain(dir, err)
	}
	an := Analyze(c, s.Photos, s.between(ctx, "", lastDay), "", "")
	d := digest.Make(digest.Input{Analysis: an, Plants: c.Plants, Photos: s.Photos, Parts: c.Parts})
	files, err := s.writeTables(dir, an, &d)
	for i := range files {
		files[i] = filepath.Join(dir, files[i])
	}
	return files, err
}
