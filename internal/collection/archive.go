package collection

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// ErrChanged says that a file no longer has the content that was measured.
var ErrChanged = errors.New("the file has changed since it was measured")

// ArchivePath is where the original of a photo is kept, relative to the collection: photos/YYYY-MM/<PhotoRef>, or
// photos/undated/ where it has no date.
func ArchivePath(p *record.Photo) string {
	month := "undated"
	if day := p.Taken.Day(); day != "" {
		month = day[:7]
	}
	return PhotosDir + "/" + month + "/" + PhotoRef(p.SHA256, p.Name)
}

// mostCopies of an original are kept beside a damaged one: with more the disk is at fault.
const mostCopies = 9

// Archive keeps the original of a measured photo, read from src, and gives its place relative to the collection. It is a
// copy, checked against the hash, that shares its blocks with src where the file system can do that (a clone): an edit of
// one leaves the other as it is. Only where the settings ask for it, it is a hard link. Nothing is ever overwritten: an
// original that is there already stays, and a file of that name with other content (a damaged copy) gets a neighbour.
// src is never changed, moved or deleted.
func (c *Collection) Archive(p *record.Photo, src string) (string, error) {
	rel := ArchivePath(p)
	dst := c.Path(filepath.FromSlash(rel))
	if err := os.MkdirAll(filepath.Dir(dst), 0o755); err != nil {
		return "", fsx.Explain(dst, err)
	}
	for n := 2; ; n++ {
		placed, err := keepOriginal(src, dst, p, c.Settings.Run.LinkOriginals)
		switch {
		case err != nil:
			return "", err
		case placed:
			return rel, nil
		case n > mostCopies:
			return "", &fsx.HintError{What: "there are too many damaged copies of " + rel, Hint: "Run phototrack doctor to see what is wrong with the disk."}
		}
		ext := filepath.Ext(ArchivePath(p))
		rel = strings.TrimSuffix(ArchivePath(p), ext) + fmt.Sprintf(" (%d)", n) + ext
		dst = c.Path(filepath.FromSlash(rel))
	}
}

// keepOriginal puts src at dst. placed is false where dst is taken by other content.
func keepOriginal(src, dst string, p *record.Photo, link bool) (placed bool, err error) {
	if st, err := os.Lstat(dst); err == nil {
		if !st.Mode().IsRegular() {
			return false, nil
		}
		if srcSt, err := os.Stat(src); err == nil && os.SameFile(srcSt, st) {
			return true, nil
		}
		sum, err := HashFile(dst)
		return err == nil && sum == p.SHA256, err
	}
	sum, err := HashFile(src)
	if err != nil {
		return false, err
	}
	if sum != p.SHA256 {
		return false, &fsx.HintError{What: src, Hint: "It is measured again at the next run.", Err: ErrChanged}
	}
	if st, err := os.Lstat(src); link && err == nil && st.Mode().IsRegular() {
		if os.Link(src, dst) == nil {
			return true, nil
		}
	}
	return true, copyChecked(src, dst, p.SHA256, fsx.Clone)
}

// cloner makes the empty file dst share the content of src, as fsx.Clone does, or fails and changes nothing.
type cloner func(dst, src *os.File) error

func copyChecked(src, dst, sum string, clone cloner) error {
	err := fsx.PlaceNew(dst, 0o644, func(w io.Writer) error {
		f, err := os.Open(src)
		if err != nil {
			return err
		}
		defer f.Close()
		got, err := copyOf(w, f, clone)
		if err == nil && got != sum {
			err = &fsx.HintError{What: src, Hint: "It is measured again at the next run.", Err: ErrChanged}
		}
		return err
	})
	if errors.Is(err, os.ErrExist) {
		return nil // another run of the same program was first; both have checked the content
	}
	return err
}

// copyOf copies a file, as a clone where the file system can, and gives the hash of what the copy holds.
func copyOf(w io.Writer, f *os.File, clone cloner) (sum string, err error) {
	h := sha256.New()
	if to, ok := w.(*os.File); ok && clone(to, f) == nil {
		_, err = io.Copy(h, io.NewSectionReader(to, 0, 1<<62))
	} else {
		_, err = io.Copy(io.MultiWriter(w, h), f)
	}
	return hex.EncodeToString(h.Sum(nil)), err
}

// Unshare makes a kept original, which is a hard link to another file, a file of its own with the same content.
func Unshare(path, sum string) error {
	f, err := os.Open(path)
	if err != nil {
		return fsx.Explain(path, err)
	}
	defer f.Close()
	return fsx.WriteAtomic(path, 0o644, func(w io.Writer) error {
		got, err := copyOf(w, f, fsx.Clone)
		if err == nil && got != sum {
			err = &fsx.HintError{What: path, Hint: "phototrack doctor --full says which originals are damaged.", Err: ErrChanged}
		}
		return err
	})
}

// Hash gives the SHA-256 by which a photo is known, in lower-case hexadecimal.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// HashFile gives the SHA-256 of an ordinary file's content, in lower-case hexadecimal.
func HashFile(path string) (string, error) {
	st, err := os.Stat(path)
	if err != nil {
		return "", fsx.Explain(path, err)
	}
	if !st.Mode().IsRegular() {
		return "", &fsx.HintError{What: path + " is not an ordinary file", Hint: "Only ordinary files are opened."}
	}
	f, err := os.Open(path)
	if err != nil {
		return "", fsx.Explain(path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fsx.Explain(path, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Original finds the kept original of a measured photo: at ArchivePath, or under the month that it was first kept
// under, where its date has been corrected since. ok is false where it is not kept. The content is not read.
func (c *Collection) Original(p *record.Photo) (path string, ok bool) {
	ref := PhotoRef(p.SHA256, p.Name)
	first := c.Path(filepath.FromSlash(ArchivePath(p)))
	if isFile(first) {
		return first, true
	}
	months, err := os.ReadDir(c.Path(PhotosDir))
	if err != nil {
		return "", false
	}
	for _, m := range months {
		if path := c.Path(PhotosDir, m.Name(), ref); m.IsDir() && isFile(path) {
			return path, true
		}
	}
	return "", false
}

// OriginalOf finds a kept original whose content has the hash, whatever it is called. The content is read.
func (c *Collection) OriginalOf(sha256 string) (path string, ok bool) {
	months, err := os.ReadDir(c.Path(PhotosDir))
	if err != nil {
		return "", false
	}
	for _, m := range months {
		files, err := os.ReadDir(c.Path(PhotosDir, m.Name()))
		if err != nil {
			continue
		}
		for _, f := range files {
			if !strings.HasPrefix(f.Name(), hashPrefix(sha256)+"-") {
				continue
			}
			path := c.Path(PhotosDir, m.Name(), f.Name())
			if sum, err := HashFile(path); err == nil && sum == sha256 {
				return path, true
			}
		}
	}
	return "", false
}

// GivenName is the name under which the grower knows a photo, from that of its kept original: without the beginning of its
// hash. kept is false where the name is not that of a kept original; whole is false where it is, but of another content.
func GivenName(base, sha256 string) (name string, kept, whole bool) {
	head := hashStart.FindString(base)
	if strings.Trim(head, "0123456789-") == "" {
		return base, false, true
	}
	return strings.TrimPrefix(base, head), true, strings.HasPrefix(sha256, strings.TrimSuffix(head, "-"))
}

func isFile(path string) bool {
	st, err := os.Lstat(path)
	return err == nil && st.Mode().IsRegular()
}

// Originals names all kept originals, as PhotoRef does. It is for asking about many photos at once.
func (c *Collection) Originals() map[string]bool {
	out := map[string]bool{}
	months, _ := os.ReadDir(c.Path(PhotosDir)) // a folder that cannot be read holds no originals to be had
	for _, m := range months {
		files, _ := os.ReadDir(c.Path(PhotosDir, m.Name()))
		for _, f := range files {
			if f.Type().IsRegular() {
				out[f.Name()] = true
			}
		}
	}
	return out
}
