package fsx

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// ErrLocked is the cause of a LockedError.
var ErrLocked = errors.New("in use by another writer")

// LockedError says who holds a lock. PID is 0 and Since zero where the holder has not said so yet.
type LockedError struct {
	Path  string
	PID   int
	Since time.Time
}

// Error names the holder.
func (e *LockedError) Error() string {
	if e.PID == 0 {
		return "the collection is being written by another phototrack"
	}
	return fmt.Sprintf("the collection is being written by another phototrack (process %d, since %s)", e.PID, e.Since.Local().Format("2006-01-02 15:04:05"))
}

// Unwrap gives ErrLocked.
func (e *LockedError) Unwrap() error { return ErrLocked }

// Lock is the right to write, held until Close or until the process ends, however it ends.
type Lock struct{ f *os.File }

// AcquireLock takes the lock at path without waiting. The lock is the system's own on the open file, which ends with its
// process: a killed writer leaves a file but no lock, so there is nothing to clean up by hand. A lock held by another
// process (or elsewhere in this one) gives a LockedError.
func AcquireLock(path string) (*Lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, Explain(path, err)
	}
	switch held, err := tryLock(f); {
	case held:
		defer f.Close()
		return nil, &HintError{Hint: "Wait until it has finished, or end it, and try again. Reports and exports that only read are not affected.", Err: lockedBy(path, f)}
	case err != nil:
		f.Close()
		return nil, &HintError{"the folder of " + path + " cannot be locked", "Some network folders know no locks: copy the collection to a local disk.", err}
	}
	l := &Lock{f}
	if err := l.sign(); err != nil {
		l.Close()
		return nil, Explain(path, err)
	}
	return l, nil
}

// sign writes who holds the lock and since when, for the message to a second writer.
func (l *Lock) sign() error {
	if err := l.f.Truncate(0); err != nil {
		return err
	}
	_, err := l.f.WriteAt([]byte(fmt.Sprintf("%d %s\n", os.Getpid(), time.Now().UTC().Format(time.RFC3339))), 0)
	return err
}

// Close gives the lock up. The file stays: removing it would let two writers hold two different files of one name.
func (l *Lock) Close() error {
	if l == nil || l.f == nil {
		return nil
	}
	l.f.Truncate(0) // only the message goes; a failure to clear it does no harm
	err := l.f.Close()
	l.f = nil
	return err
}

// lockedBy reads the holder's signature.
func lockedBy(path string, f *os.File) *LockedError {
	e := &LockedError{Path: path}
	buf := make([]byte, 100)
	n, _ := f.ReadAt(buf, 0)
	pid, since, ok := strings.Cut(strings.TrimSpace(string(buf[:n])), " ")
	if !ok {
		return e
	}
	e.PID, _ = strconv.Atoi(pid)
	e.Since, _ = time.Parse(time.RFC3339, since)
	return e
}
