//go:build unix

package fsx

import (
	"errors"
	"os"
	"syscall"
)

// replaceFile gives from the name to, in place of what has that name now. Who has the old file open keeps it.
func replaceFile(from, to string) error { return os.Rename(from, to) }

// nameNew gives from the name to. A link fails where the name exists; a rename would overwrite. Without links (FAT)
// it checks, then renames: the collection's lock keeps other writers of this program away in between.
func nameNew(from, to string) error {
	err := os.Link(from, to)
	switch {
	case err == nil:
		return os.Remove(from)
	case errors.Is(err, os.ErrExist):
		return err
	}
	if _, err := os.Lstat(to); err == nil {
		return &os.PathError{Op: "create", Path: to, Err: os.ErrExist}
	}
	return os.Rename(from, to)
}

// syncDir makes a rename in dir last through a power cut. Folders that cannot be synced (some network systems) are
// left to their own promise.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !isUnsyncable(err) {
		return err
	}
	return nil
}

// isUnsyncable says that a folder's file system has no sync for folders.
func isUnsyncable(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) || errors.Is(err, errors.ErrUnsupported)
}

// syncFile brings a finished file's content to the disk.
func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}
