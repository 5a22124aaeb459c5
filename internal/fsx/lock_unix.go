//go:build unix

package fsx

import (
	"os"
	"syscall"
)

// tryLock takes the advisory lock on an open file (flock). held says that another open file has it.
func tryLock(f *os.File) (held bool, err error) {
	for {
		switch err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err {
		case syscall.EINTR:
			continue
		case syscall.EWOULDBLOCK:
			return true, nil
		}
		return false, err
	}
}
