package series

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"phototrack/internal/fsx"
)

// Store is an open store. Its methods may be called from several goroutines; writes go one after another.
type Store struct {
	db       *sql.DB
	path     string
	readOnly bool
	writing  sync.Mutex
	now      func() time.Time
	file     os.FileInfo // of the store as it was opened for writing

	reading sync.Mutex // guards damaged
	damaged []Damage   // what readers have met
}

// options are what tests change.
type options struct {
	migrations []step
	pragmas    []string
}

// Open opens the store at path for reading and writing, and makes it where there is none. An older schema is
// upgraded, with a copy of the old file kept beside it. Errors: ErrNewer, ErrNotStore, ErrDamaged, ErrReadOnly,
// ErrDiskFull, each with a hint.
func Open(path string) (*Store, error) { return open(path, options{migrations: migrations}) }

func open(path string, o options) (*Store, error) {
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return nil, fsx.Explain(filepath.Dir(path), err)
	}
	if st, err := os.Stat(path); err == nil && !st.Mode().IsRegular() {
		return nil, &fsx.HintError{What: path + " is not an ordinary file", Hint: "Move it away and run again.", Err: ErrNotStore}
	}
	// synchronous FULL: a photo that was acknowledged stays, even through a power cut. It costs one disk sync for a
	// photo, against a second of measuring.
	pragmas := append([]string{"busy_timeout(10000)", "foreign_keys(1)", "synchronous(FULL)"}, o.pragmas...)
	s, err := connect(path, "rwc", pragmas)
	if err != nil {
		return nil, err
	}
	if err := s.prepare(context.Background(), o.migrations); err != nil {
		s.db.Close()
		return nil, explain(path, err)
	}
	if s.file, err = os.Stat(s.path); err != nil {
		s.db.Close()
		return nil, vanished(s.path)
	}
	return s, nil
}

// vanished says that the store was taken away, or replaced by another file, while it was in use.
func vanished(path string) error {
	return &fsx.HintError{What: path + " was moved, deleted or replaced while it was being written", Hint: "What was stored in it since then is lost with it. Put the file back or restore a backup, then run the same command again.", Err: ErrVanished}
}

// here says whether the store's file is still the one that is being written.
func (s *Store) here() error {
	st, err := os.Stat(s.path)
	if errors.Is(err, os.ErrNotExist) || err == nil && s.file != nil && !os.SameFile(st, s.file) {
		return vanished(s.path)
	}
	return fsx.Explain(s.path, err)
}

// OpenReader opens the store for reading only, also on a disk that cannot be written. A store that does not exist
// gives ErrNotFound; one of an older schema has to be upgraded by Open first.
func OpenReader(path string) (*Store, error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return nil, &fsx.HintError{What: "nothing has been measured yet", Hint: "Drop photos into the inbox and run phototrack run.", Err: ErrNotFound}
	}
	var first error
	for _, mode := range []string{"ro", "ro&immutable=1"} {
		s, err := connect(path, mode, []string{"busy_timeout(10000)"})
		if err == nil {
			s.readOnly = true
			if err = s.checkSchema(path); err == nil {
				return s, nil
			}
			s.db.Close()
		}
		if first == nil {
			first = err
		}
		// A store in a folder that cannot be written has no room for the shared index of readers; such a folder
		// has no writer either, so it can be read as it lies.
		if !errors.Is(explain(path, err), ErrReadOnly) || errors.As(err, new(*fsx.HintError)) {
			break
		}
	}
	return nil, explain(path, first)
}

// checkSchema says what keeps the store from being read as it is.
func (s *Store) checkSchema(path string) error {
	v, err := s.version(context.Background())
	switch {
	case err != nil:
		return err
	case v == 0:
		return &fsx.HintError{What: path + " is empty", Hint: "Restore a backup (phototrack restore FILE), or run phototrack run.", Err: ErrNotFound}
	case v > len(migrations):
		return newerError(path, v)
	case v < len(migrations):
		return &fsx.HintError{What: path + " has not been upgraded yet", Hint: "Run phototrack run once.", Err: ErrReadOnly}
	}
	return nil
}

// fileURI names a file for SQLite: file:///home/..., file:///C:/..., file:////server/share/... (SQLite, "URI Filenames").
func fileURI(path string) string {
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a drive's letter comes first
	}
	return "file://" + (&url.URL{Path: path}).EscapedPath()
}

// OpenToExamine opens the store for a look that leaves everything in its folder as it is, on a disk that cannot be written
// too. live says that a writer has it open just now. Where that cannot be done with the file itself, because a log lies
// beside it or its schema is older, a copy in the system's folder for temporary files is opened. Call done at the end.
func OpenToExamine(path string, live bool) (s *Store, done func(), err error) {
	if live {
		if s, err = OpenReader(path); err != nil {
			return nil, nil, err
		}
		return s, func() { s.Close() }, nil
	}
	if log, err := os.Stat(path + "-wal"); err != nil || log.Size() == 0 {
		if s, err = openUntouched(path); s != nil || err != nil {
			return s, func() { s.Close() }, err
		}
	}
	return openCopy(path)
}

// openUntouched opens the store's file as something that does not change; nil where its schema is older.
func openUntouched(path string) (*Store, error) {
	s, err := connect(path, "ro&immutable=1", nil)
	if err != nil {
		return nil, explain(path, err)
	}
	s.readOnly = true
	v, err := s.version(context.Background())
	if err == nil && v == len(migrations) {
		return s, nil
	}
	s.db.Close()
	switch {
	case err != nil:
		return nil, explain(path, err)
	case v == 0:
		return nil, &fsx.HintError{What: path + " holds no store", Hint: "Restore a backup (phototrack restore FILE), or move the file away and type phototrack run --anew.", Err: ErrNotStore}
	case v > len(migrations):
		return nil, newerError(path, v)
	}
	return nil, nil
}

// openCopy opens a copy of the store and of the log beside it, in the system's folder for temporary files; done takes it away.
func openCopy(path string) (s *Store, done func(), err error) {
	dir, err := os.MkdirTemp("", "phototrack-examine-*")
	if err != nil {
		return nil, nil, fsx.Explain(os.TempDir(), err)
	}
	copied := filepath.Join(dir, filepath.Base(path))
	for _, part := range []string{"", "-wal"} {
		if err = copyFile(path+part, copied+part); err != nil {
			break
		}
	}
	if err == nil {
		s, err = Open(copied)
	}
	if err != nil {
		os.RemoveAll(dir)
		return nil, nil, err
	}
	s.readOnly = true
	return s, func() { s.Close(); os.RemoveAll(dir) }, nil
}

// copyFile copies a file, if it is there.
func copyFile(from, to string) error {
	src, err := os.Open(from)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fsx.Explain(from, err)
	}
	defer src.Close()
	dst, err := os.Create(to)
	if err != nil {
		return fsx.Explain(to, err)
	}
	defer dst.Close()
	_, err = io.Copy(dst, src)
	return fsx.Explain(to, err)
}

func connect(path, mode string, pragmas []string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	var q strings.Builder
	for _, p := range pragmas {
		q.WriteString("&_pragma=" + url.QueryEscape(p))
	}
	dsn := fileURI(filepath.ToSlash(abs)) + "?mode=" + mode + "&_txlock=immediate" + q.String()
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	return &Store{db: db, path: abs, now: time.Now}, nil
}

// Path is the store's file.
func (s *Store) Path() string { return s.path }

// Close ends the use of the store. The last writer to close tidies the log file away.
func (s *Store) Close() error { return explain(s.path, s.db.Close()) }

func (s *Store) version(ctx context.Context) (v int, err error) {
	var app int64
	if err := s.db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&app); err != nil {
		return 0, err
	}
	if err := s.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&v); err != nil {
		return 0, err
	}
	var tables int
	if err := s.db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master").Scan(&tables); err != nil {
		return 0, err
	}
	if app != applicationID && (tables > 0 || app != 0) {
		return 0, &fsx.HintError{What: s.path + " belongs to another program", Hint: "Move the file away and run again.", Err: ErrNotStore}
	}
	return v, nil
}

func newerError(path string, v int) error {
	return &fsx.HintError{What: fmt.Sprintf("%s has schema %d, this phototrack knows %d", path, v, len(migrations)), Hint: "Use the newer phototrack that wrote it.", Err: ErrNewer}
}

// prepare brings the schema up to date.
func (s *Store) prepare(ctx context.Context, steps []step) error {
	v, err := s.version(ctx)
	if err != nil {
		return err
	}
	if v > len(steps) {
		return newerError(s.path, v)
	}
	if v > 0 && v < len(steps) {
		kept := fmt.Sprintf("%s.schema%d-%s", s.path, v, s.now().UTC().Format("20060102T150405.000000"))
		// As it is, damage included: the upgrade then finds that.
		if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", kept); err != nil {
			return fmt.Errorf("before the upgrade a copy is kept: %w", err)
		}
		if err := fsx.Sync(kept); err != nil {
			return err
		}
	}
	// In write-ahead mode readers and the writer do not wait for each other. File systems without shared memory
	// refuse it and keep the older journal, which is as safe.
	if _, err := s.db.ExecContext(ctx, "PRAGMA journal_mode="+journalMode(s.path)); err != nil {
		return err
	}
	for ; v < len(steps); v++ {
		if err := s.migrate(ctx, steps[v], v+1); err != nil {
			return fmt.Errorf("schema %d: %w", v+1, err)
		}
	}
	return nil
}

// migrate takes one step and notes its version in the same transaction, so that it is done wholly or not at all.
func (s *Store) migrate(ctx context.Context, step step, version int) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		var now int
		if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&now); err != nil || now >= version {
			return err // another process was first
		}
		if _, err := tx.ExecContext(ctx, step.sql); err != nil {
			return err
		}
		if step.fill != nil {
			if err := step.fill(ctx, tx); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d", applicationID, version))
		return err
	})
}

// write runs do in one transaction.
func (s *Store) write(ctx context.Context, do func(tx *sql.Tx) error) error {
	if s.readOnly {
		return &fsx.HintError{What: s.path, Hint: "It was opened for reading.", Err: ErrReadOnly}
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return explain(s.path, err)
	}
	if err := do(tx); err != nil {
		tx.Rollback() // the first error is the one that tells
		return explain(s.path, err)
	}
	if s.file != nil {
		if err := s.here(); err != nil {
			tx.Rollback()
			return err
		}
	}
	return explain(s.path, tx.Commit())
}

// stamp is the moment for the bookkeeping columns. They inform a person only: nothing is ordered or decided by them,
// so a clock that was set wrong does no harm.
func (s *Store) stamp() string { return s.now().UTC().Format(time.RFC3339) }
