package series

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phototrack/internal/fsx"
)

// Report is what a look through a store has found.
type Report struct {
	Faults  []string // of the file as a whole: pages, references, tables that are missing
	Damaged []Damage // things stored that are not what was written; each can be measured again from its original
	Copied  []string // of the table quantities, which says once more, for queries by hand, what the records say; RemakeQuantities mends it
}

// Empty says that nothing is wrong.
func (r Report) Empty() bool { return len(r.Faults) == 0 && len(r.Damaged) == 0 && len(r.Copied) == 0 }

// First is the first fault as a sentence.
func (r Report) First() string {
	if len(r.Faults) > 0 {
		return r.Faults[0]
	}
	if len(r.Damaged) > 0 {
		return fmt.Sprintf("the stored %s of %s is damaged", r.Damaged[0].What, r.Damaged[0].Name)
	}
	if len(r.Copied) > 0 {
		return r.Copied[0]
	}
	return ""
}

// Check looks a store through: its tables, pages, indexes and references, then every measurement, drawing and picture
// against its checksum. It only reads.
func (s *Store) Check(ctx context.Context) (Report, error) {
	var rep Report
	missing, err := s.missingTables(ctx)
	if err == nil {
		rep.Faults = append(rep.Faults, missing...)
	} else if !errors.Is(explain(s.path, err), ErrDamaged) {
		return rep, explain(s.path, err)
	}
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		found, err := s.pragmaRows(ctx, pragma)
		switch {
		case err == nil:
			rep.Faults = append(rep.Faults, found...)
		case errors.Is(explain(s.path, err), ErrDamaged), len(missing) > 0 && ctx.Err() == nil:
			rep.Faults = append(rep.Faults, err.Error())
		default:
			return rep, explain(s.path, err)
		}
	}
	for _, look := range []func(context.Context, *Report) error{s.checkRecords, s.checkDrawings, s.checkPictures, s.checkQuantities} {
		err := look(ctx, &rep)
		if ctx.Err() != nil {
			return rep, ctx.Err()
		}
		if err != nil && len(missing) == 0 {
			rep.Faults = append(rep.Faults, explain(s.path, err).Error())
		}
	}
	rep.Faults = slices.DeleteFunc(rep.Faults, func(fault string) bool {
		if !ofQuantities(fault) {
			return false
		}
		rep.Copied = append(rep.Copied, fault)
		return true
	})
	return rep, nil
}

// missingTables compares the tables and indexes with those that the schema makes.
func (s *Store) missingTables(ctx context.Context) ([]string, error) {
	fresh, err := connect(":memory:", "memory", nil)
	if err != nil {
		return nil, err
	}
	defer fresh.db.Close()
	fresh.db.SetMaxOpenConns(1)
	for _, m := range migrations {
		if _, err := fresh.db.ExecContext(ctx, m.sql); err != nil {
			return nil, err
		}
	}
	want, err := fresh.schema(ctx)
	if err != nil {
		return nil, err
	}
	have, err := s.schema(ctx)
	if err != nil {
		return nil, err
	}
	var out []string
	names := slices.Sorted(maps.Keys(want))
	slices.Reverse(names) // tables before their indexes
	for _, name := range names {
		switch is, ok := have[name]; {
		case !ok:
			out = append(out, "the "+name+" is missing")
		case is != want[name]:
			out = append(out, "the "+name+" is not as this program makes it")
		}
	}
	return out, nil
}

// schema gives the statements that made the tables and indexes, by kind and name.
func (s *Store) schema(ctx context.Context) (map[string]string, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]string{}
	for rows.Next() {
		var kind, name, text string
		if err := rows.Scan(&kind, &name, &text); err != nil {
			return nil, err
		}
		out[kind+" "+name] = strings.Join(strings.Fields(text), " ")
	}
	return out, rows.Err()
}

func (s *Store) checkRecords(ctx context.Context, rep *Report) error {
	for _, table := range []string{"measurements", "history"} {
		rows, err := s.db.QueryContext(ctx, "SELECT name, plant, view, day, status, settings_key, "+rowColumns+" FROM "+table)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r row
			var name, view, day, status, key string
			var plant int
			if err := rows.Scan(append([]any{&name, &plant, &view, &day, &status, &key}, r.into()...)...); err != nil {
				return err
			}
			p, ok := r.photo()
			if ok && p.Name == name && p.Plant == plant && string(p.View) == view && p.Taken.Day() == day && string(p.Status) == status && p.SettingsKey == key {
				continue
			}
			if table == "history" {
				rep.Faults = append(rep.Faults, "a replaced measurement of "+name+" in the history is damaged; today's numbers do not rest on it")
				continue
			}
			rep.Damaged = append(rep.Damaged, Damage{r.sha, name, "record"})
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) checkDrawings(ctx context.Context, rep *Report) error {
	rows, err := s.db.QueryContext(ctx, "SELECT d.sha256, m.name, d.doc, d.sum FROM drawings d LEFT JOIN measurements m USING (sha256)")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var sha string
		var name sql.NullString
		var doc, sum []byte
		if err := rows.Scan(&sha, &name, &doc, &sum); err != nil {
			return err
		}
		if !bytes.Equal(sum, drawingSum(sha, doc)) {
			rep.Damaged = append(rep.Damaged, Damage{sha, named(name, sha), "drawing"})
		}
	}
	return rows.Err()
}

func (s *Store) checkPictures(ctx context.Context, rep *Report) error {
	rows, err := s.db.QueryContext(ctx, "SELECT p.sha256, m.name, p.kind, p.bytes, p.sum FROM pictures p LEFT JOIN measurements m USING (sha256)")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var sha, kind string
		var name sql.NullString
		var data, sum []byte
		if err := rows.Scan(&sha, &name, &kind, &data, &sum); err != nil {
			return err
		}
		if d := (Damage{sha, named(name, sha), "picture"}); !bytes.Equal(sum, pictureSum(sha, kind, data)) && !slices.Contains(rep.Damaged, d) {
			rep.Damaged = append(rep.Damaged, d)
		}
	}
	return rows.Err()
}

func named(name sql.NullString, sha string) string {
	if name.Valid {
		return name.String
	}
	return sha
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
// its name. An existing file is never overwritten. What an earlier backup that was cut off has left there is cleared away.
func (s *Store) Backup(ctx context.Context, file string) error {
	if _, err := os.Lstat(file); err == nil {
		return &fsx.HintError{What: file + " exists already", Hint: "Choose another name for the backup; nothing is overwritten.", Err: os.ErrExist}
	}
	fsx.SweepTemps(filepath.Dir(file))
	dir, err := os.MkdirTemp(filepath.Dir(file), fsx.TempPattern())
	if err != nil {
		return fsx.Explain(file, err)
	}
	defer os.RemoveAll(dir)
	temp, err := s.copyInto(ctx, dir)
	if err != nil {
		return err
	}
	return fsx.MoveNew(temp, file)
}

// CopyInto writes a complete, checked copy of the store into a folder and gives its path.
func (s *Store) CopyInto(ctx context.Context, dir string) (string, error) {
	return s.copyInto(ctx, dir)
}

func (s *Store) copyInto(ctx context.Context, dir string) (string, error) {
	temp := filepath.Join(dir, "copy.db")
	if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", temp); err != nil {
		return "", explain(temp, err)
	}
	return temp, CheckFile(ctx, temp)
}

// CheckFile proves a store's file sound without changing it.
func CheckFile(ctx context.Context, path string) error {
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
	case v < len(migrations):
		return checkOlder(ctx, s)
	}
	rep, err := s.Check(ctx)
	if err != nil {
		return err
	}
	if !rep.Empty() {
		return &fsx.HintError{What: path + ": " + rep.First(), Hint: "Of the store: phototrack doctor --repair, then phototrack run, has what is damaged measured again. Of a backup: use an earlier one.", Err: ErrDamaged}
	}
	return nil
}

// checkOlder looks through a store of an older schema, which has no checksums yet.
func checkOlder(ctx context.Context, s *Store) error {
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		found, err := s.pragmaRows(ctx, pragma)
		if err != nil {
			return explain(s.path, err)
		}
		if len(found) > 0 {
			return &fsx.HintError{What: s.path + ": " + found[0], Hint: "Use an earlier backup.", Err: ErrDamaged}
		}
	}
	rows, err := s.db.QueryContext(ctx, "SELECT sha256, doc, quantities FROM measurements")
	if err != nil {
		return explain(s.path, err)
	}
	defer rows.Close()
	for rows.Next() {
		var r row
		if err := rows.Scan(&r.sha, &r.doc, &r.quantities); err != nil {
			return explain(s.path, err)
		}
		if p, err := decodePhoto(r.doc, r.quantities); err != nil || p.SHA256 != r.sha {
			return &fsx.HintError{What: fmt.Sprintf("%s: the measurement of photo %.12s cannot be read", s.path, r.sha), Hint: "Use an earlier backup.", Err: ErrDamaged}
		}
	}
	return explain(s.path, rows.Err())
}

// Restore puts the backup in file in place of the store at path, after the backup has been checked. The store that was
// there is kept beside it under the name that is returned ("" where there was none). At every moment there is a whole
// store, the old or the new; a restore that is cut off is finished by fsx.Recover. Nobody may have the store open for
// writing: hold the collection's lock.
func Restore(ctx context.Context, file, path string) (kept string, err error) {
	if err := CheckFile(ctx, file); err != nil {
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
	home, base := filepath.Dir(path), filepath.Base(path)
	temp, err := os.MkdirTemp(home, fsx.TempPattern())
	if err != nil {
		return "", fsx.Explain(path, err)
	}
	fresh, err := source.copyInto(ctx, temp)
	if err == nil {
		err = fsx.Sync(fresh)
	}
	if err != nil {
		os.RemoveAll(temp)
		return "", err
	}
	var moves []fsx.Move
	if _, err := os.Lstat(path); err == nil {
		kept = fmt.Sprintf("%s.before-restore-%s", path, time.Now().UTC().Format("20060102T150405.000"))
		writeLog(path)
		moves = []fsx.Move{{From: base + "-wal", To: filepath.Base(kept) + "-wal"}, {From: base + "-shm"}, {From: base, To: filepath.Base(kept), Link: true}}
	}
	moves = append(moves, fsx.Move{From: filepath.Base(temp) + "/" + filepath.Base(fresh), To: base})
	if err := fsx.MoveTogether(home, "a restore of the store", moves...); err != nil {
		return "", err // the finished copy stays: what was begun is settled at the next start
	}
	return kept, os.RemoveAll(temp)
}

// writeLog writes a store's log into its file, so that they need not be moved together. A damaged store cannot; it is kept
// as it is.
func writeLog(path string) {
	if s, err := connect(path, "rw", nil); err == nil {
		s.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
		s.db.Close()
	}
}
