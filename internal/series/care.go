package series

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phototrack/internal/fsx"
)

// Check proves the store sound: pages, indexes and references by SQLite's own checks, then every measurement read. It
// gives one sentence for each fault, none where all is well.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	var faults []string
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		found, err := s.pragmaRows(ctx, pragma)
		if err != nil {
			if errors.Is(explain(s.path, err), ErrDamaged) {
				faults = append(faults, err.Error())
				continue
			}
			return nil, explain(s.path, err)
		}
		faults = append(faults, found...)
	}
	rows, err := s.db.QueryContext(ctx, "SELECT m.sha256, m.doc, m.quantities, d.doc FROM measurements m LEFT JOIN drawings d USING (sha256)")
	if err != nil {
		return append(faults, explain(s.path, err).Error()), ctx.Err()
	}
	defer rows.Close()
	for rows.Next() {
		var sha string
		var e encoded
		var drawn []byte
		if err := rows.Scan(&sha, &e.doc, &e.quantities, &drawn); err != nil {
			return append(faults, err.Error()), ctx.Err()
		}
		p, err := decodePhoto(e.doc, e.quantities)
		if err == nil {
			_, err = decodeDrawings(drawn)
		}
		if err == nil && p.SHA256 != sha {
			err = errors.New("it belongs to another photo")
		}
		if err != nil {
			faults = append(faults, fmt.Sprintf("the measurement of photo %.12s: %v", sha, err))
		}
	}
	if err := rows.Err(); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		faults = append(faults, explain(s.path, err).Error())
	}
	return faults, nil
}

// pragmaRows gives what a check says, without "ok".
func (s *Store) pragmaRows(ctx context.Context, pragma string) ([]string, error) {
	rows, err := s.db.QueryContext(ctx, "PRAGMA "+pragma)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	var out []string
	for rows.Next() {
		cells := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range cells {
			into[i] = &cells[i]
		}
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
		text := strings.TrimSpace(fmt.Sprintln(cells...))
		if text != "ok" {
			out = append(out, pragma+": "+text)
		}
	}
	return out, rows.Err()
}

// Backup writes a complete copy of the store to file while it may be in use, checks the copy, and only then gives it
// its name. An existing file is never overwritten.
func (s *Store) Backup(ctx context.Context, file string) error {
	if _, err := os.Lstat(file); err == nil {
		return &fsx.HintError{What: file + " exists already", Hint: "Choose another name for the backup; nothing is overwritten.", Err: os.ErrExist}
	}
	dir, err := os.MkdirTemp(filepath.Dir(file), ".phototrack-*.tmp")
	if err != nil {
		return fsx.Explain(file, err)
	}
	defer os.RemoveAll(dir)
	temp := filepath.Join(dir, "copy.db")
	if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", temp); err != nil {
		return explain(file, err)
	}
	if err := checkFile(ctx, temp); err != nil {
		return err
	}
	return fsx.MoveNew(temp, file)
}

// checkFile proves a store's file sound without changing it.
func checkFile(ctx context.Context, path string) error {
	if _, err := os.Stat(path); err != nil {
		return fsx.Explain(path, err)
	}
	s, err := connect(path, "ro", nil)
	if err != nil {
		return explain(path, err)
	}
	defer s.db.Close()
	v, err := s.version(ctx)
	switch {
	case err != nil:
		return explain(path, err)
	case v == 0:
		return &fsx.HintError{What: path + " is empty", Hint: "Choose a file that phototrack backup has written.", Err: ErrNotStore}
	case v > len(migrations):
		return newerError(path, v)
	}
	faults, err := s.Check(ctx)
	if err != nil {
		return err
	}
	if len(faults) > 0 {
		return &fsx.HintError{What: path + ": " + faults[0], Hint: "Use an earlier backup.", Err: ErrDamaged}
	}
	return nil
}

// Restore puts the backup in file in place of the store at path, after the backup has been checked. The store that was
// there is kept beside it under the name that is returned ("" where there was none). Nobody may have the store open:
// hold the collection's lock.
func Restore(ctx context.Context, file, path string) (kept string, err error) {
	if err := checkFile(ctx, file); err != nil {
		return "", err
	}
	if a, err := os.Stat(file); err == nil {
		if b, err := os.Stat(path); err == nil && os.SameFile(a, b) {
			return "", errors.New("the backup and the store are the same file")
		}
	}
	source, err := connect(file, "ro", nil)
	if err != nil {
		return "", explain(file, err)
	}
	defer source.db.Close()
	fresh := fmt.Sprintf("%s.restored-%s", path, time.Now().UTC().Format("20060102T150405.000"))
	if err := source.Backup(ctx, fresh); err != nil {
		return "", err
	}
	defer os.Remove(fresh) // gone already where all went well
	if _, err := os.Lstat(path); err == nil {
		kept = fmt.Sprintf("%s.before-restore-%s", path, time.Now().UTC().Format("20060102T150405.000"))
		if err := setAside(path, kept); err != nil {
			return "", err
		}
	}
	return kept, fsx.MoveNew(fresh, path)
}

// setAside renames a store together with its log, which is a part of it. The log is first written into the file where
// that can be done, so that an interruption between the renames loses nothing.
func setAside(path, kept string) error {
	if s, err := connect(path, "rw", nil); err == nil {
		s.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)") // a damaged store cannot; it is kept as it is
		s.db.Close()
	}
	for _, part := range []string{"-wal", "-shm", ""} {
		if err := os.Rename(path+part, kept+part); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fsx.Explain(path, err)
		}
	}
	return nil
}
