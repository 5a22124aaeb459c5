//go:build unix

package fsx

import (
	"errors"
	"syscall"
)

// causes are the system's numbers that a person can do something about.
var causes = map[syscall.Errno]cause{
	syscall.ENOSPC: causeFull, syscall.EDQUOT: causeFull,
	syscall.EROFS:  causeReadOnlyDisk,
	syscall.ESTALE: causeNoAnswer, syscall.EIO: causeNoAnswer, syscall.ENOTCONN: causeNoAnswer, syscall.EHOSTDOWN: causeNoAnswer,
	syscall.ENAMETOOLONG: causeName,
}

func systemCause(err error) cause {
	var n syscall.Errno
	if errors.As(err, &n) {
		return causes[n]
	}
	return causeOther
}
