// Package fsx holds the few file operations that must never lose a byte: a file is either as it was or as it should be,
// whenever the power goes; only one program writes at a time; and what goes wrong is said with what to do about it.
package fsx

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// WriteFileAtomic replaces path with data: temporary file in the same folder, sync, rename, sync of the folder. On an
// error the old file is untouched and the temporary one removed. An existing file keeps its permissions. A path that
// is a symbolic link is written through, so that the link stays a link.
func WriteFileAtomic(path string, data []byte, perm os.FileMode) error {
	return WriteAtomic(path, perm, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// WriteAtomic is WriteFileAtomic for content that is produced by write. An error from write leaves the old file.
func WriteAtomic(path string, perm os.FileMode, write func(io.Writer) error) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if st, err := os.Stat(path); err == nil {
		perm = st.Mode().Perm()
	}
	temp, err := writeTemp(filepath.Dir(path), perm, write)
	if err != nil {
		return Explain(path, err)
	}
	if err := replaceFile(temp, path); err != nil {
		os.Remove(temp)
		return Explain(path, err)
	}
	return Explain(path, syncDir(filepath.Dir(path)))
}

// ErrNotSame says that a file does not hold what it was expected to hold.
var ErrNotSame = errors.New("the file holds something else than expected")

// ReplaceSame is WriteFileAtomic for a file that other programs edit as well: it puts fresh in place of old, and gives
// ErrNotSame where the file holds anything but old. The content is compared after fresh is safely on the disk, directly
// before the names are exchanged, and what was displaced once more after it: what another program saves in between wins.
func ReplaceSame(path string, old, fresh []byte) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	st, err := os.Stat(path)
	if err != nil {
		return Explain(path, err)
	}
	temp, err := writeTemp(filepath.Dir(path), st.Mode().Perm(), func(w io.Writer) error {
		_, err := w.Write(fresh)
		return err
	})
	if err != nil {
		return Explain(path, err)
	}
	defer os.Remove(temp) // the old content, or nothing
	now, err := os.ReadFile(path)
	if err == nil && !bytes.Equal(now, old) {
		err = ErrNotSame
	}
	if err == nil {
		err = swapIn(temp, path, sumOf(old))
	}
	if err != nil {
		return Explain(path, err)
	}
	return Explain(path, syncDir(filepath.Dir(path)))
}

// writeTemp makes a synced temporary file in dir and gives its path; nothing is left behind on an error.
func writeTemp(dir string, perm os.FileMode, write func(io.Writer) error) (path string, err error) {
	f, err := os.CreateTemp(dir, TempPattern())
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = write(f); err != nil {
		return "", err
	}
	if err = f.Chmod(perm); err != nil && !errors.Is(err, os.ErrPermission) && !errors.Is(err, errors.ErrUnsupported) {
		return "", err // some network and FAT folders know no permissions: that is no reason to refuse
	}
	// A rename may reach the disk before the content does; without this an outage leaves an empty file.
	if err = f.Sync(); err != nil {
		return "", err
	}
	if err = f.Close(); err != nil {
		return "", err
	}
	return f.Name(), nil
}

// PlaceNew puts a temporary copy of content at path only if nothing is there yet; os.ErrExist otherwise.
func PlaceNew(path string, perm os.FileMode, write func(io.Writer) error) error {
	dir := filepath.Dir(path)
	temp, err := writeTemp(dir, perm, write)
	if err != nil {
		return Explain(path, err)
	}
	if err := nameNew(temp, path); err != nil {
		os.Remove(temp)
		if errors.Is(err, os.ErrExist) {
			return err
		}
		return Explain(path, err)
	}
	return Explain(path, syncDir(dir))
}

// HintError is a fault meant for the person at the keyboard: what is wrong, and what to do about it.
type HintError struct {
	What string // one sentence without a full stop; "" where Err says it all
	Hint string // what to do; "" where there is nothing to say
	Err  error  // the cause, may be nil
}

// Error is the fault without the hint.
func (e *HintError) Error() string {
	switch {
	case e.Err == nil:
		return e.What
	case e.What == "":
		return e.Err.Error()
	case isSaid(e.Err):
		return e.What
	}
	return fmt.Sprintf("%s: %v", e.What, e.Err)
}

// Unwrap gives the cause.
func (e *HintError) Unwrap() error { return e.Err }

// HintOf finds the advice in an error, "" where there is none.
func HintOf(err error) string {
	var h *HintError
	if errors.As(err, &h) {
		return h.Hint
	}
	return ""
}

// MoveNew syncs a finished file and gives it its name in the same file system, only if nothing has that name yet;
// os.ErrExist otherwise.
func MoveNew(from, to string) error {
	if err := Sync(from); err != nil {
		return err
	}
	if err := nameNew(from, to); err != nil {
		return Explain(to, err)
	}
	return Explain(to, syncDir(filepath.Dir(to)))
}

// Sync sees to it that a finished file is on the disk.
func Sync(path string) error { return Explain(path, syncFile(path)) }
