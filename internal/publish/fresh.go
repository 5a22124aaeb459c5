package publish

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// fingerprintFile lies in a report's folder and says what the report was made from, in its first line, and each plate.
const fingerprintFile = ".made-from"

// fingerprint is a hash of all that a report rests on: which photos were measured with which inputs, the grower's
// files, and the program.
func fingerprint(c *collection.Collection, photos []record.Photo, version string) string {
	h := sha256.New()
	fmt.Fprintln(h, version)
	for i := range photos {
		fmt.Fprintln(h, photos[i].SHA256, photos[i].SettingsKey)
	}
	for _, name := range []string{collection.PlantsFile, collection.EventsFile, collection.WatchFile, collection.CardsFile, collection.CorrectionsFile, collection.SettingsFile} {
		fmt.Fprintln(h, name)
		if f, err := os.Open(c.Path(name)); err == nil {
			io.Copy(h, f) // a file that cannot be read is as good as empty here; opening the collection has named it
			f.Close()
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// UpToDate says whether the latest month's report is there and rests on what is stored now.
func UpToDate(ctx context.Context, c *collection.Collection, st *series.Store, version string) (index string, fresh bool, err error) {
	photos, err := st.All(ctx)
	if err != nil {
		return "", false, err
	}
	_, _, folder, err := Period{}.resolve(photos)
	if err != nil {
		return "", false, err
	}
	dir := c.ReportDir(folder)
	index = filepath.Join(dir, "index.html")
	if _, err := os.Stat(index); err != nil {
		return index, false, nil
	}
	made, err := os.ReadFile(filepath.Join(dir, fingerprintFile))
	line, _, _ := strings.Cut(string(made), "\n")
	return index, err == nil && line == fingerprint(c, photos, version), nil
}
