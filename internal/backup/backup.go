// Package backup keeps everything of a collection that a grower could not make again in one file, and brings it back: the
// lists, settings, marks, corrections, the store, and on request the photos. The file is a ZIP archive that any program
// opens; its last entry, manifest.json, has the SHA-256 of all others. A backup is looked through after it was written,
// and gets its name only then.
package backup

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/series"
)

const manifestName = "manifest.json"

// manifestKind tells our archives from others.
const manifestKind = "phototrack backup"

// manifest is what manifest.json holds.
type manifest struct {
	Kind    string  `json:"kind"`
	Made    string  `json:"made"` // RFC 3339
	Program string  `json:"program"`
	Files   []entry `json:"files"`
}

type entry struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Options say what goes into a backup.
type Options struct {
	Photos  bool   // the kept originals and the inbox, too
	Program string // the program's version
}

// Summary is what a backup holds.
type Summary struct {
	Lists, Marks, Photos int
	Store                bool
	Bytes                int64
}

// ErrNotBackup says that a file is no backup.
var ErrNotBackup = errors.New("not a backup of a collection")

// IsArchive says whether a file is an archive rather than a bare store.
func IsArchive(file string) bool {
	f, err := os.Open(file)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [4]byte
	_, err = io.ReadFull(f, head[:])
	return err == nil && string(head[:]) == "PK\x03\x04"
}

// Write makes a backup of a collection in file, which must not exist. st may be nil where nothing has been measured yet.
// Anything may go on meanwhile: the store is copied as it was at one moment, and the lists as they were at one moment.
func Write(ctx context.Context, c *collection.Collection, st *series.Store, file string, o Options) (Summary, error) {
	if _, err := os.Lstat(file); err == nil {
		return Summary{}, &fsx.HintError{What: file + " exists already", Hint: "Choose another name for the backup; nothing is overwritten.", Err: os.ErrExist}
	}
	home := filepath.Dir(file)
	fsx.SweepTemps(home) // what an earlier backup that was cut off has left
	dir, err := os.MkdirTemp(home, fsx.TempPattern())
	if err != nil {
		return Summary{}, fsx.Explain(file, err)
	}
	defer os.RemoveAll(dir)
	temp, err := writeArchive(ctx, c, st, dir, o)
	if err != nil {
		return Summary{}, err
	}
	sum, err := Verify(ctx, temp)
	if err != nil {
		return sum, fmt.Errorf("what was written does not read back: %w", err)
	}
	return sum, fsx.MoveNew(temp, file)
}

// writeArchive writes the backup into a folder for what is not finished, and gives its path there.
func writeArchive(ctx context.Context, c *collection.Collection, st *series.Store, dir string, o Options) (string, error) {
	temp := filepath.Join(dir, "backup.zip")
	f, err := os.Create(temp)
	if err != nil {
		return "", fsx.Explain(temp, err)
	}
	defer f.Close()
	w := &writer{ctx: ctx, zip: zip.NewWriter(f), m: manifest{Kind: manifestKind, Made: time.Now().Format(time.RFC3339), Program: o.Program}}
	lists, err := lists(c)
	if err != nil {
		return "", err
	}
	for _, name := range sortedNames(lists) {
		w.add(name, zip.Deflate, bytes.NewReader(lists[name]))
	}
	if st != nil {
		copied, err := st.CopyInto(ctx, dir)
		if err != nil {
			return "", err
		}
		w.addFile(collection.StoreFile, zip.Deflate, copied)
		os.Remove(copied) // the room is needed for looking the backup through
	}
	if o.Photos {
		for _, sub := range []string{collection.PhotosDir, collection.InboxDir} {
			w.addTree(c.Dir, sub)
		}
	}
	if err := w.end(); err != nil {
		return "", fsx.Explain(temp, err)
	}
	return temp, fsx.Explain(temp, f.Close())
}

// lists reads all files of the grower's but the photos: what lies in the folder itself, marks, former states of the lists,
// and the files that cards take their colours from. They are read again until none has changed meanwhile.
func lists(c *collection.Collection) (map[string][]byte, error) {
	const tries = 5
	before, err := readLists(c)
	for range tries {
		if err != nil {
			return nil, err
		}
		after, err := readLists(c)
		if err == nil && sameLists(before, after) {
			return after, nil
		}
		before = after
	}
	return before, err
}

func readLists(c *collection.Collection) (map[string][]byte, error) {
	names, err := listNames(c)
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for _, name := range names {
		data, err := fsx.ReadSettled(c.Path(filepath.FromSlash(name)))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, fsx.Explain(c.Path(filepath.FromSlash(name)), err)
		}
		out[name] = data
	}
	return out, nil
}

func listNames(c *collection.Collection) (out []string, err error) {
	top, err := os.ReadDir(c.Dir)
	if err != nil {
		return nil, fsx.Explain(c.Dir, err)
	}
	for _, e := range top {
		if name := e.Name(); !ours(name) && isRegular(c.Path(name)) {
			out = append(out, name)
		}
	}
	for _, sub := range []string{collection.MarksDir, collection.FormerDir} {
		entries, err := os.ReadDir(c.Path(sub))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, fsx.Explain(c.Path(sub), err)
		}
		for _, e := range entries {
			if e.Type().IsRegular() && !fsx.IsTemp(e.Name()) {
				out = append(out, sub+"/"+e.Name())
			}
		}
	}
	for _, k := range c.Cards {
		name := filepath.ToSlash(filepath.Clean(k.ColourFrom))
		if _, err := c.File(k.ColourFrom); err == nil && strings.Contains(name, "/") {
			out = append(out, name)
		}
	}
	return out, nil
}

// ours says whether a name in a collection's folder is that of the store, of its log and copies, or of the program's own
// notes: what a backup has in another form or can do without.
func ours(name string) bool {
	return strings.HasPrefix(name, collection.StoreFile) || strings.HasPrefix(name, ".") || name == collection.LockFile
}

func isRegular(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.Mode().IsRegular()
}

func sameLists(a, b map[string][]byte) bool {
	if len(a) != len(b) {
		return false
	}
	for name, data := range a {
		if !bytes.Equal(b[name], data) {
			return false
		}
	}
	return true
}

func sortedNames(m map[string][]byte) []string {
	out := make([]string, 0, len(m))
	for name := range m {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// writer fills the archive; the first fault stays in err.
type writer struct {
	ctx context.Context
	zip *zip.Writer
	m   manifest
	err error
}

func (w *writer) add(name string, method uint16, from io.Reader) {
	if w.err != nil {
		return
	}
	if w.err = w.ctx.Err(); w.err != nil {
		return
	}
	to, err := w.zip.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: time.Now()})
	if err != nil {
		w.err = err
		return
	}
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(to, h), from)
	w.err = err
	w.m.Files = append(w.m.Files, entry{name, n, hex.EncodeToString(h.Sum(nil))})
}

func (w *writer) addFile(name string, method uint16, path string) {
	if w.err != nil {
		return
	}
	f, err := os.Open(path)
	if err != nil {
		w.err = fsx.Explain(path, err)
		return
	}
	defer f.Close()
	w.add(name, method, f)
}

// addTree adds all ordinary files below a folder; photos are compressed already.
func (w *writer) addTree(root, sub string) {
	err := filepath.WalkDir(filepath.Join(root, sub), func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, os.ErrNotExist) {
				return nil
			}
			return fsx.Explain(path, err)
		}
		if !e.Type().IsRegular() || fsx.IsTemp(e.Name()) {
			return nil
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		w.addFile(filepath.ToSlash(rel), zip.Store, path)
		return w.err
	})
	if w.err == nil {
		w.err = err
	}
}

func (w *writer) end() error {
	if w.err != nil {
		return w.err
	}
	data, err := json.MarshalIndent(w.m, "", " ")
	if err != nil {
		return err
	}
	to, err := w.zip.Create(manifestName)
	if err != nil {
		return err
	}
	if _, err := to.Write(append(data, '\n')); err != nil {
		return err
	}
	return w.zip.Close()
}
