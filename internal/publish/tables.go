package publish

import (
	"bytes"
	"context"
	"io"
	"path/filepath"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/digest"
	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/series"
)

// writeTables writes the CSV exports and the dictionary of their columns into a folder and gives their names. Names are
// written as the grower knows the photos; paths, places and other EXIF never leave the store.
func writeTables(dir string, c *collection.Collection, photos []record.Photo, an change.Analysis, d *digest.Digest) ([]string, error) {
	var names []string
	for _, t := range tables(c, photos, an, d) {
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

// table is one exported file.
type table struct {
	name  string
	write func(io.Writer) error
}

// tables are the exported files.
func tables(c *collection.Collection, photos []record.Photo, an change.Analysis, d *digest.Digest) []table {
	return []table{
		{"measurements.csv", func(w io.Writer) error { return change.WriteMeasurements(w, photos) }},
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
func WriteTable(ctx context.Context, w io.Writer, name string, c *collection.Collection, st *series.Store, photos []record.Photo, m *Memo) (ok bool, err error) {
	an := Analyze(c, photos, m.Between(ctx, c, st, photos, "", "9999-12-31"), "", "")
	d := digest.Make(digest.Input{Analysis: an, Plants: c.Plants, Photos: photos, Parts: c.Parts})
	for _, t := range tables(c, photos, an, &d) {
		if t.name == name {
			return true, t.write(w)
		}
	}
	return false, nil
}
