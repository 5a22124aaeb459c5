package publish

import (
	"bytes"
	"io"
	"path/filepath"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/report"
)

// writeTables writes the CSV exports and the dictionary of their columns into a folder and gives their names. Names are
// written as the grower knows the photos; paths, places and other EXIF never leave the store.
func writeTables(dir string, c *collection.Collection, photos []record.Photo, an change.Analysis) ([]string, error) {
	tables := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"measurements.csv", func(w io.Writer) error { return change.WriteMeasurements(w, photos) }},
		{"sessions.csv", func(w io.Writer) error { return change.WriteSessions(w, an.Sessions) }},
		{"changes.csv", func(w io.Writer) error { return change.WriteChanges(w, an.Changes) }},
		{"trends.csv", func(w io.Writer) error { return change.WriteTrends(w, an.Trends) }},
		{"events_effect.csv", func(w io.Writer) error { return change.WriteEffects(w, an.Effects) }},
		{"events_pooled.csv", func(w io.Writer) error { return change.WritePooled(w, an.Pooled) }},
		{"datapackage.json", func(w io.Writer) error { return report.WriteDictionary(w, filepath.Base(c.Dir), time.Now()) }},
	}
	var names []string
	for _, t := range tables {
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
