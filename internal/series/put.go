package series

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"

	"phototrack/internal/record"
)

// Put stores the measurement of one photo in one transaction. A measurement of the same photo that says something else
// moves to the history; its drawings and pictures are replaced. The photo needs its SHA256 and Status.
func (s *Store) Put(ctx context.Context, p *record.Photo) error {
	if err := checkHash(p.SHA256); err != nil {
		return err
	}
	switch p.Status {
	case record.Accepted, record.Flagged, record.Rejected:
	default:
		return fmt.Errorf("%s: the status %q is none of the three", p.Name, p.Status)
	}
	doc, err := encodeHead(p)
	if err != nil {
		return err
	}
	drawn, err := encodeDrawings(p)
	if err != nil {
		return fmt.Errorf("%s: a drawn point is not a number: %w", p.Name, err)
	}
	r := row{sha: p.SHA256, doc: doc, quantities: encodeQuantities(p.Quantities)}
	err = s.write(ctx, func(tx *sql.Tx) error {
		w := txWriter{ctx: ctx, tx: tx}
		w.exec("INSERT OR IGNORE INTO photos (sha256, bytes, first_seen) VALUES (?, ?, ?)", p.SHA256, p.Bytes, s.stamp())
		w.keepHistory(&r, s.stamp())
		w.exec(`INSERT INTO measurements (sha256, name, plant, view, day, status, settings_key, stale, measured_at, doc, quantities, sum)
			VALUES (?, ?, ?, ?, ?, ?, ?, 0, ?, ?, ?, ?)
			ON CONFLICT (sha256) DO UPDATE SET name = excluded.name, plant = excluded.plant, view = excluded.view, day = excluded.day,
			status = excluded.status, settings_key = excluded.settings_key, stale = 0, measured_at = excluded.measured_at,
			doc = excluded.doc, quantities = excluded.quantities, sum = excluded.sum`,
			p.SHA256, p.Name, p.Plant, string(p.View), p.Taken.Day(), string(p.Status), p.SettingsKey, s.stamp(), string(r.doc), r.quantities, r.wanted())
		w.exec("DELETE FROM remeasure WHERE sha256 = ?", p.SHA256)
		for _, table := range []string{"quantities", "drawings", "pictures"} {
			w.exec("DELETE FROM "+table+" WHERE sha256 = ?", p.SHA256)
		}
		w.details(p, drawn)
		return w.err
	})
	if err == nil {
		s.mended(p.SHA256)
	}
	return err
}

// txWriter keeps the first error of a row of statements.
type txWriter struct {
	ctx context.Context
	tx  *sql.Tx
	err error
}

func (w *txWriter) exec(query string, args ...any) {
	if w.err == nil {
		_, w.err = w.tx.ExecContext(w.ctx, query, args...)
	}
}

// keepHistory copies the measurement that is about to be replaced, unless the new one says the same, or it is damaged: then
// it is no measurement.
func (w *txWriter) keepHistory(fresh *row, now string) {
	if w.err != nil {
		return
	}
	var old row
	err := w.tx.QueryRowContext(w.ctx, "SELECT "+rowColumns+" FROM measurements WHERE sha256 = ?", fresh.sha).Scan(old.into()...)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return
	case err != nil:
		w.err = err
		return
	case !old.sound(), bytes.Equal(old.doc, fresh.doc) && bytes.Equal(old.quantities, fresh.quantities):
		return
	}
	w.exec(`INSERT INTO history (sha256, name, plant, view, day, status, settings_key, measured_at, replaced_at, doc, quantities, sum)
		SELECT sha256, name, plant, view, day, status, settings_key, measured_at, ?, doc, quantities, sum FROM measurements WHERE sha256 = ?`, now, fresh.sha)
}

func (w *txWriter) details(p *record.Photo, drawn []byte) {
	w.quantities(p)
	if drawn != nil {
		w.exec("INSERT INTO drawings (sha256, doc, sum) VALUES (?, ?, ?)", p.SHA256, drawn, drawingSum(p.SHA256, drawn))
	}
	kinds := make([]string, 0, len(p.Pictures))
	for k := range p.Pictures {
		kinds = append(kinds, k)
	}
	sort.Strings(kinds)
	for _, k := range kinds {
		w.exec("INSERT INTO pictures (sha256, kind, bytes, sum) VALUES (?, ?, ?, ?)", p.SHA256, k, p.Pictures[k], pictureSum(p.SHA256, k, p.Pictures[k]))
	}
}

func (w *txWriter) quantities(p *record.Photo) {
	for _, q := range p.Quantities {
		w.exec("INSERT OR REPLACE INTO quantities (sha256, name, part, unit, value, u95) VALUES (?, ?, ?, ?, ?, ?)", p.SHA256, q.Name, q.Part, q.Unit, q.Value, q.U95)
	}
}

func checkHash(sha256 string) error {
	if len(sha256) != 64 || strings.Trim(sha256, "0123456789abcdef") != "" {
		return fmt.Errorf("%q is not a sha256 in lower-case hexadecimal", sha256)
	}
	return nil
}

// Seen gives the content hash of a file that was looked at before with the same path, size and time of change, so
// that it need not be read again.
func (s *Store) Seen(ctx context.Context, path string, size int64, mtime time.Time) (sha256 string, ok bool, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT sha256 FROM seen WHERE path = ? AND size = ? AND mtime_ns = ?", path, size, mtime.UnixNano()).Scan(&sha256)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return sha256, err == nil, explain(s.path, err)
}

// SeenFile is a file as it was looked at.
type SeenFile struct {
	Path   string
	Size   int64
	MTime  time.Time
	SHA256 string
}

// NoteSeen remembers the content hash of files, all in one transaction.
func (s *Store) NoteSeen(ctx context.Context, files ...SeenFile) error {
	if len(files) == 0 {
		return nil
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		w := txWriter{ctx: ctx, tx: tx}
		for _, f := range files {
			if err := checkHash(f.SHA256); err != nil {
				return err
			}
			w.exec("INSERT OR IGNORE INTO photos (sha256, bytes, first_seen) VALUES (?, ?, ?)", f.SHA256, f.Size, s.stamp())
			w.exec("INSERT OR IGNORE INTO names (sha256, path) VALUES (?, ?)", f.SHA256, f.Path)
			w.exec(`INSERT INTO seen (path, size, mtime_ns, sha256, last_seen) VALUES (?, ?, ?, ?, ?)
				ON CONFLICT (path) DO UPDATE SET size = excluded.size, mtime_ns = excluded.mtime_ns, sha256 = excluded.sha256, last_seen = excluded.last_seen`,
				f.Path, f.Size, f.MTime.UnixNano(), f.SHA256, s.stamp())
		}
		return w.err
	})
}

// AllSeen gives every file looked at, by path: one read for a run over thousands of files.
func (s *Store) AllSeen(ctx context.Context) (map[string]SeenFile, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT path, size, mtime_ns, sha256 FROM seen")
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	out := map[string]SeenFile{}
	for rows.Next() {
		var f SeenFile
		var ns int64
		if err := rows.Scan(&f.Path, &f.Size, &ns, &f.SHA256); err != nil {
			return nil, explain(s.path, err)
		}
		f.MTime = time.Unix(0, ns)
		out[f.Path] = f
	}
	return out, explain(s.path, rows.Err())
}

// CutOff gives the last run that has no end: the program or the power ended during it. ok is false where the last run, or
// the one before the given number, has ended.
func (s *Store) CutOff(ctx context.Context) (r Run, ok bool, err error) {
	runs, err := s.Runs(ctx)
	if err != nil || len(runs) == 0 {
		return r, false, err
	}
	r = runs[len(runs)-1]
	return r, r.EndedAt == "", nil
}

// Run is the record of one run of the program over photos.
type Run struct {
	ID                                           int64
	StartedAt, EndedAt                           string // RFC 3339, UTC; EndedAt "" for a run that was cut off
	Version                                      string
	Found, Measured, Accepted, Flagged, Rejected int
	Outcome                                      string
}

// BeginRun notes that a run has begun and gives its number.
func (s *Store) BeginRun(ctx context.Context, version string) (id int64, err error) {
	err = s.write(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "INSERT INTO runs (started_at, version) VALUES (?, ?)", s.stamp(), version)
		if err == nil {
			id, err = r.LastInsertId()
		}
		return err
	})
	return id, err
}

// EndRun notes how a run ended.
func (s *Store) EndRun(ctx context.Context, r Run) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE runs SET ended_at = ?, found = ?, measured = ?, accepted = ?, flagged = ?, rejected = ?, outcome = ? WHERE id = ?`,
			s.stamp(), r.Found, r.Measured, r.Accepted, r.Flagged, r.Rejected, r.Outcome, r.ID)
		return err
	})
}

// Runs gives all runs, oldest first.
func (s *Store) Runs(ctx context.Context) ([]Run, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT id, started_at, ended_at, version, found, measured, accepted, flagged, rejected, outcome FROM runs ORDER BY id")
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	var out []Run
	for rows.Next() {
		var r Run
		if err := rows.Scan(&r.ID, &r.StartedAt, &r.EndedAt, &r.Version, &r.Found, &r.Measured, &r.Accepted, &r.Flagged, &r.Rejected, &r.Outcome); err != nil {
			return nil, explain(s.path, err)
		}
		out = append(out, r)
	}
	return out, explain(s.path, rows.Err())
}
