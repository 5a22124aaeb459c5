package publish

import (
	"bytes"
	"context"
	"io"
	"path/filepath"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/digest"
	"phototrack/internal/fsx"
	"phototrack/internal/report"
)

// writeTables writes the CSV exports and the dictionary of their columns into a folder and gives their names. Names are
// written as the grower knows the photos; paths, places and other EXIF never leave the store.
func (s Source) writeTables(dir string, an change.Analysis, d *digest.Digest) ([]string, error) {
	var names []string
	for _, t := range s.tables(an, d) {
		var b bytes.Buffer
		if err := t.write(&b); err != nil {
			return names, err
		}
		if err := fsx.WriteFileAtomic(filepath.Join(dir, t.name), b.Bytes(), 0o644); err != nil {
			return names, err
		}
		names = append(names, t.name)
	}
	return names, nil
}

// lastDay is after every day that a photo can have.
const lastDay = "9999-12-31"

// table is one exported file.
type table struct {
	name  string
	write func(io.Writer) error
}

// tables are the exported files.
func (s Source) tables(an change.Analysis, d *digest.Digest) []table {
	c := s.Collection
	return []table{
		{"measurements.csv", func(w io.Writer) error { return change.WriteMeasurements(w, s.Photos) }},
		{"sessions.csv", func(w io.Writer) error { return change.WriteSessions(w, an.Sessions) }},
		{"changes.csv", func(w io.Writer) error { return change.WriteChanges(w, an.Changes) }},
		{"trends.csv", func(w io.Writer) error { return change.WriteTrends(w, an.Trends) }},
		{"events_effect.csv", func(w io.Writer) error { return change.WriteEffects(w, an.Effects) }},
		{"events_pooled.csv", func(w io.Writer) error { return change.WritePooled(w, an.Pooled) }},
		{"digest.csv", d.WriteCSV},
		{"months.csv", func(w io.Writer) error { return change.WriteMonths(w, an.Sessions, c.Plants, c.Events) }},
		{"dictionary.html", func(w io.Writer) error { return report.WriteDictionaryPage(w, filepath.Base(c.Dir), time.Now()) }},
		{"parts.csv", func(w io.Writer) error { return change.WriteParts(w, c.Parts) }},
		{"counts.csv", func(w io.Writer) error { return change.WriteCounts(w, c.Counts) }},
		{"datapackage.json", func(w io.Writer) error { return report.WriteDictionary(w, filepath.Base(c.Dir), time.Now()) }},
	}
}

// WriteTable writes one of the exports over all data; ok is false where there is none of that name.
func (s Source) WriteTable(ctx context.Context, w io.Writer, name string, m *PairCache) (ok bool, err error) {
	an := Analyze(s.Collection, s.Photos, m.Between(ctx, s, "", lastDay), "", "")
	d := digest.Make(digest.Input{Analysis: an, Plants: s.Collection.Plants, Photos: s.Photos, Parts: s.Collection.Parts})
	for _, t := range s.tables(an, &d) {
		if t.name == name {
			return true, t.write(w)
		}
	}
	return false, nil
}
