package backup

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/series"
)

// maxManifest bounds what is read of a manifest: a line a file.
const maxManifest = 256 << 20

// archive is an open backup.
type archive struct {
	path  string
	zip   *zip.ReadCloser
	files map[string]*zip.File
	m     manifest
}

func damaged(file, what string) error {
	return &fsx.HintError{What: file + ": " + what, Hint: "Use another backup.", Err: ErrNotBackup}
}

func open(file string) (*archive, error) {
	z, err := zip.OpenReader(file)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) || errors.Is(err, os.ErrPermission) {
			return nil, fsx.Explain(file, err)
		}
		return nil, damaged(file, "the archive cannot be read, or is not whole ("+err.Error()+")")
	}
	a := &archive{path: file, zip: z, files: map[string]*zip.File{}}
	for _, f := range z.File {
		a.files[f.Name] = f
	}
	if err := a.readManifest(); err != nil {
		z.Close()
		return nil, err
	}
	return a, nil
}

func (a *archive) readManifest() error {
	f := a.files[manifestName]
	if f == nil {
		return damaged(a.path, "it has no list of its files, so it is no backup of phototrack or not whole")
	}
	r, err := f.Open()
	if err != nil {
		return damaged(a.path, err.Error())
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, maxManifest))
	if err == nil {
		err = json.Unmarshal(data, &a.m)
	}
	if err != nil || a.m.Kind != manifestKind {
		return damaged(a.path, "its list of files cannot be read")
	}
	for _, e := range a.m.Files {
		if !filepath.IsLocal(filepath.FromSlash(e.Name)) || strings.Contains(e.Name, `\`) || a.files[e.Name] == nil {
			return damaged(a.path, fmt.Sprintf("%q is not in it or is no name within a collection", e.Name))
		}
	}
	if len(a.m.Files) != len(a.files)-1 {
		return damaged(a.path, "it holds files that its list does not name")
	}
	return nil
}

// copy writes one file of the backup to w and compares it with the list.
func (a *archive) copy(e entry, w io.Writer) error {
	r, err := a.files[e.Name].Open()
	if err != nil {
		return damaged(a.path, e.Name+": "+err.Error())
	}
	defer r.Close()
	h := sha256.New()
	from := &watched{r: io.LimitReader(r, e.Bytes+1)}
	n, err := io.Copy(io.MultiWriter(w, h), from)
	if from.err != nil || err == nil && (n != e.Bytes || hex.EncodeToString(h.Sum(nil)) != e.SHA256) {
		return damaged(a.path, e.Name+" is damaged in it")
	}
	return err
}

// Verify reads a whole backup, compares every file with its hash, and looks the store through.
func Verify(ctx context.Context, file string) (Summary, error) {
	var sum Summary
	a, err := open(file)
	if err != nil {
		return sum, err
	}
	defer a.zip.Close()
	for _, e := range a.m.Files {
		if err := ctx.Err(); err != nil {
			return sum, err
		}
		sum.Bytes += e.Bytes
		switch {
		case e.Name == collection.StoreFile:
			sum.Store = true
			if err := a.verifyStore(ctx, e); err != nil {
				return sum, err
			}
			continue
		case strings.HasPrefix(e.Name, collection.MarksDir+"/"):
			sum.Marks++
		case strings.HasPrefix(e.Name, collection.PhotosDir+"/"), strings.HasPrefix(e.Name, collection.InboxDir+"/"):
			sum.Photos++
		default:
			sum.Lists++
		}
		if err := a.copy(e, io.Discard); err != nil {
			return sum, err
		}
	}
	return sum, nil
}

// verifyStore unpacks the store beside the backup, where there is room for things of its size, and looks it through.
func (a *archive) verifyStore(ctx context.Context, e entry) error {
	dir, err := os.MkdirTemp(filepath.Dir(a.path), fsx.TempPattern())
	if err != nil { // a backup on a disk that cannot be written
		if dir, err = os.MkdirTemp("", fsx.TempPattern()); err != nil {
			return fsx.Explain(a.path, err)
		}
	}
	defer os.RemoveAll(dir)
	store := filepath.Join(dir, "store.db")
	if err := a.unpack(e, store); err != nil {
		return err
	}
	return series.CheckFile(ctx, store)
}

// watched keeps the fault of a reader apart from that of who is written to.
type watched struct {
	r   io.Reader
	err error
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.r.Read(b)
	if err != nil && err != io.EOF {
		w.err = err
	}
	return n, err
}

func (a *archive) unpack(e entry, to string) error {
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return fsx.Explain(to, err)
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fsx.Explain(to, err)
	}
	defer f.Close()
	if err := a.copy(e, f); err != nil {
		return fsx.Explain(to, err)
	}
	if err := f.Sync(); err != nil {
		return fsx.Explain(to, err)
	}
	return fsx.Explain(to, f.Close())
}

func (a *archive) unpackAll(ctx context.Context, dir string) error {
	for _, e := range a.m.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := a.unpack(e, filepath.Join(dir, filepath.FromSlash(e.Name))); err != nil {
			return err
		}
	}
	return nil
}

// CanHold says whether a whole collection can be restored into a folder: it is not there yet, or empty but for what a
// restore that was cut off has left.
func CanHold(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return errors.Is(err, os.ErrNotExist)
	}
	for _, e := range entries {
		if !fsx.IsTemp(e.Name()) && e.Name() != collection.LockFile {
			return false
		}
	}
	return true
}

// Whole restores a whole collection into a folder for which CanHold is true. Where it is cut off the folder is as empty as
// before to the next restore, or a collection whose restore is finished when it is opened.
func Whole(ctx context.Context, file, dir string) (Summary, error) {
	sum, err := Verify(ctx, file)
	if err != nil {
		return sum, err
	}
	a, err := open(file)
	if err != nil {
		return sum, err
	}
	defer a.zip.Close()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return sum, fsx.Explain(dir, err)
	}
	lock, err := fsx.AcquireLock(filepath.Join(dir, collection.LockFile))
	if err != nil {
		return sum, err
	}
	defer lock.Close()
	if !CanHold(dir) {
		return sum, &fsx.HintError{What: dir + " is not empty any more", Hint: "Choose an empty folder."}
	}
	fsx.SweepTemps(dir)
	temp, err := os.MkdirTemp(dir, fsx.TempPattern())
	if err != nil {
		return sum, fsx.Explain(dir, err)
	}
	if err := a.unpackAll(ctx, temp); err != nil {
		os.RemoveAll(temp)
		return sum, err
	}
	if _, err := os.Lstat(filepath.Join(temp, collection.SettingsFile)); err != nil && !hasPlants(temp) && !sum.Store {
		os.RemoveAll(temp)
		return sum, damaged(file, "it holds no collection")
	}
	// The folders for photos and reports come with the rest: a restore that is cut off behind the moves leaves a collection
	// that lacks nothing.
	if _, err := collection.Init(temp); err != nil {
		os.RemoveAll(temp)
		return sum, err
	}
	var moves []fsx.Move
	top, err := os.ReadDir(temp)
	if err != nil {
		return sum, fsx.Explain(temp, err)
	}
	for _, e := range top {
		moves = append(moves, fsx.Move{From: filepath.Base(temp) + "/" + e.Name(), To: e.Name()})
	}
	if err := fsx.MoveTogether(dir, "a restore of the collection", moves...); err != nil {
		return sum, err
	}
	os.RemoveAll(temp)
	return sum, nil
}

func hasPlants(dir string) bool {
	_, err := os.Lstat(filepath.Join(dir, collection.PlantsFile))
	return err == nil
}

// Result is what a restore into a collection that is there came to.
type Result struct {
	Kept    string   // the store that was there lies under this name now, "" where there was none
	Brought []string // files that were missing and came back
	Differ  []string // files that say something else than the backup; they were left as they are
}

// Into restores the store of a backup into a collection that is there, and brings back the files that are missing. Files
// that are there stay as they are. Hold the collection's lock.
func Into(ctx context.Context, file string, c *collection.Collection) (r Result, err error) {
	sum, err := Verify(ctx, file)
	if err != nil {
		return r, err
	}
	a, err := open(file)
	if err != nil {
		return r, err
	}
	defer a.zip.Close()
	temp, err := os.MkdirTemp(c.Dir, fsx.TempPattern())
	if err != nil {
		return r, fsx.Explain(c.Dir, err)
	}
	defer os.RemoveAll(temp)
	if err := a.bringFiles(ctx, c, &r); err != nil {
		return r, err
	}
	if !sum.Store {
		return r, nil
	}
	store := filepath.Join(temp, "store.db")
	for _, e := range a.m.Files {
		if e.Name == collection.StoreFile {
			err = a.unpack(e, store)
		}
	}
	if err == nil {
		r.Kept, err = series.Restore(ctx, store, c.StorePath())
	}
	return r, err
}

// bringFiles places the files, but for the store, that the collection lacks, and notes those that it has otherwise.
func (a *archive) bringFiles(ctx context.Context, c *collection.Collection, r *Result) error {
	for _, e := range a.m.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if e.Name == collection.StoreFile {
			continue
		}
		to := c.Path(filepath.FromSlash(e.Name))
		if there, err := collection.HashFile(to); err == nil {
			if there != e.SHA256 {
				r.Differ = append(r.Differ, e.Name)
			}
			continue
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return fsx.Explain(to, err)
		}
		err := fsx.PlaceNew(to, 0o644, func(w io.Writer) error { return a.copy(e, w) })
		if err != nil {
			return err
		}
		r.Brought = append(r.Brought, e.Name)
	}
	return nil
}
