package fsx

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
)

// isUnsyncable says that a folder's file system has no sync for folders.
func isUnsyncable(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) || errors.Is(err, errors.ErrUnsupported)
}

// Explain wraps what the system says about path with what a person can do about it. Nil stays nil, and an error
// that has its advice already is returned as it is.
func Explain(path string, err error) error {
	if err == nil {
		return nil
	}
	var h *HintError
	if errors.As(err, &h) {
		return err
	}
	dir := filepath.Dir(path)
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return &HintError{"the disk is full: " + path + " could not be written", "Free some space and run the same command again; nothing that was there is lost.", err}
	case errors.Is(err, syscall.EROFS):
		return &HintError{"the folder " + dir + " is on a disk that can only be read", "Copy the collection to a disk that can be written, or mount this one for writing.", err}
	case errors.Is(err, os.ErrPermission):
		return &HintError{"no permission for " + path, "Check who owns the folder " + dir + "; you need the right to write in it.", err}
	case errors.Is(err, syscall.ESTALE), errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENOTCONN), errors.Is(err, syscall.EHOSTDOWN):
		return &HintError{"the disk or network folder that holds " + path + " does not answer", "Connect it again and run the same command again; what was stored is kept.", err}
	case errors.Is(err, os.ErrNotExist):
		return &HintError{path + " does not exist", "Check the name, and that the disk or network folder is connected.", err}
	}
	return err
}
