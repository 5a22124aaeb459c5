package fsx

import (
	"os"

	"golang.org/x/sys/unix"
)

// exchange swaps the names of two files in one step (renameat2 with RENAME_EXCHANGE). An error that wraps
// errors.ErrUnsupported or is EINVAL says that the file system cannot.
func exchange(a, b string) error {
	if err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE); err != nil {
		return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
	}
	return nil
}

// Clone makes the empty file dst share the content of src without copying it (FICLONE): a change of either leaves the
// other as it is. It fails where the file system cannot do that.
func Clone(dst, src *os.File) error {
	return unix.IoctlFileClone(int(dst.Fd()), int(src.Fd()))
}
