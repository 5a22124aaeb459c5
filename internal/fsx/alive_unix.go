//go:build unix

package fsx

import (
	"errors"
	"syscall"
)

// alive says whether a process of this computer still runs. A number that is none is no process.
func alive(pid int) bool {
	return pid > 0 && !errors.Is(syscall.Kill(pid, 0), syscall.ESRCH)
}
