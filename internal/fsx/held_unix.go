//go:build unix

package fsx

import (
	"os"
	"syscall"
)

// Held says whether somebody holds the lock at path just now. It only looks.
func Held(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close() // which gives the lock up again
	return syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) == syscall.EWOULDBLOCK
}
