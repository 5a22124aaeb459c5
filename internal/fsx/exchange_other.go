//go:build !linux

package fsx

import (
	"errors"
	"os"
)

func exchange(a, b string) error {
	return &os.LinkError{Op: "exchange", Old: a, New: b, Err: errors.ErrUnsupported}
}

// Clone would make dst share the content of src; on this system files are copied.
func Clone(dst, src *os.File) error { return errors.ErrUnsupported }
