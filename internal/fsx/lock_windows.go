package fsx

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockOffsetHigh, the upper half of an offset, is where the locked byte lies. What Windows locks, others can neither read nor write: the byte is one that the
// file never has, so that the holder's name at its start stays readable.
const lockOffsetHigh = 1 << 30

// tryLock takes the lock on an open file. held says that another open file has it.
func tryLock(f *os.File) (held bool, err error) {
	at := &windows.Overlapped{OffsetHigh: lockOffsetHigh}
	err = windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return true, nil
	}
	return false, err
}
