package publish

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// fingerprintFile lies in a report's folder and says what the report was made from, in its first line, and each plate.
const fingerprintFile = ".made-from"

// fingerprint is a hash of all that a report of a period rests on: which photos were measured with which inputs and which
// originals are there to be linked to, the grower's files, and the program.
func (s Source) fingerprint(from, to string) string {
	c := s.Collection
	h := sha256.New()
	fmt.Fprintln(h, s.Version, program(), from, to, filepath.Base(c.Dir))
	for i := range s.Photos {
		p := &s.Photos[i]
		_, err := os.Stat(c.Path(filepath.FromSlash(collection.ArchivePath(p))))
		fmt.Fprintf(h, "%s %s %q %q %d %s %s %v\n", p.SHA256, p.SettingsKey, p.Name, p.Path, p.Plant, p.View, p.Status, err == nil)
	}
	for _, name := range []string{collection.PlantsFile, collection.EventsFile, collection.WatchFile, collection.CardsFile, collection.CorrectionsFile, collection.SettingsFile, collection.PartsFile, collection.CountsFile} {
		fmt.Fprintln(h, name)
		if f, err := os.Open(c.Path(name)); err == nil {
			io.Copy(h, f) // a file that cannot be read is as good as empty here; opening the collection has named it
			f.Close()
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Fresh says that the written report of a month rests on the data as they are now.
func Fresh(c *collection.Collection, photos []record.Photo, month, version string) bool {
	from, to, folder, err := Period{Month: month}.resolve(photos)
	return err == nil && openKept(c.ReportDir(folder)).report == Source{Collection: c, Photos: photos, Version: version}.fingerprint(from, to)
}
