package series

import (
	"context"
	"errors"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"phototrack/internal/fsx"
)

// Sentinels for what a person can act on. They are wrapped in errors that carry a hint (fsx.HintOf).
var (
	ErrDiskFull = errors.New("the disk is full")
	ErrReadOnly = errors.New("the store can only be read")
	ErrDamaged  = errors.New("the store is damaged")
	ErrNotStore = errors.New("not a phototrack store")
	ErrNewer    = errors.New("the store was written by a newer phototrack")
	ErrBusy     = errors.New("the store is in use")
	ErrNotFound = errors.New("not in the store")
	ErrVanished = errors.New("the store is gone")
)

// explain turns a code of SQLite into what went wrong and what to do about it.
func explain(path string, err error) error {
	var e *sqlite.Error
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || !errors.As(err, &e) {
		return err
	}
	hint := func(sentinel error, hint string) error {
		return &fsx.HintError{What: path, Hint: hint, Err: errors.Join(sentinel, err)}
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return hint(ErrDiskFull, "Free some space and run the same command again; everything stored so far is kept.")
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH:
		return hint(ErrReadOnly, "You need the right to write in "+filepath.Dir(path)+"; if the disk can only be read, copy the collection to another.")
	case sqlite3.SQLITE_CANTOPEN:
		return hint(ErrReadOnly, "Check that "+filepath.Dir(path)+" exists, that its disk is connected, and that you may write there.")
	case sqlite3.SQLITE_IOERR:
		return hint(errors.New("the disk does not answer properly"), "Check that the disk or network folder is connected and has space, then run the same command again; what was stored is kept.")
	case sqlite3.SQLITE_CORRUPT:
		return hint(ErrDamaged, "Run phototrack doctor. A backup can be restored; without one, move the file away and type phototrack run --anew: all photos are measured anew from photos/ and inbox/.")
	case sqlite3.SQLITE_NOTADB:
		return hint(ErrNotStore, "Restore a backup, or move the file away and type phototrack run --anew.")
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return hint(ErrBusy, "Another program has the store open for writing; wait until it has finished.")
	}
	return err
}
