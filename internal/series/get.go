package series

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"runtime"
	"strings"
	"sync"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// Get gives the current measurement of a photo with its outlines, without its pictures. ok is false where the photo
// has not been measured.
func (s *Store) Get(ctx context.Context, sha256 string) (p record.Photo, ok bool, err error) {
	var r row
	var drawn, drawnSum []byte
	err = s.db.QueryRowContext(ctx, `SELECT m.`+strings.ReplaceAll(rowColumns, ", ", ", m.")+`, d.doc, d.sum FROM measurements m LEFT JOIN drawings d USING (sha256) WHERE m.sha256 = ?`, sha256).
		Scan(append(r.into(), &drawn, &drawnSum)...)
	if errors.Is(err, sql.ErrNoRows) {
		return p, false, nil
	}
	if err != nil {
		return p, false, explain(s.path, err)
	}
	if p, ok = r.photo(); !ok {
		return record.Photo{}, false, s.damage(Damage{sha256, s.nameOf(ctx, sha256), "record"})
	}
	d, err := decodeDrawings(drawn)
	if err != nil || drawn != nil && !bytes.Equal(drawnSum, drawingSum(sha256, drawn)) {
		return record.Photo{}, false, s.damage(Damage{sha256, p.Name, "drawing"})
	}
	p.Outlines, p.WallRoots = d.Outlines, d.WallRoots
	return p, true, nil
}

// damage notes what was met and says it.
func (s *Store) damage(d Damage) error {
	s.noteDamage(d)
	return &fsx.HintError{What: "the stored " + d.What + " of " + d.Name + " is damaged", Hint: "Type phototrack doctor --repair, then phototrack run: the photo is measured again from its original.", Err: ErrDamaged}
}

// NeedsMeasuring says whether a photo has no current measurement made with this settings key.
func (s *Store) NeedsMeasuring(ctx context.Context, sha256, settingsKey string) (bool, error) {
	var key string
	var stale bool
	err := s.db.QueryRowContext(ctx, "SELECT settings_key, stale FROM measurements WHERE sha256 = ?", sha256).Scan(&key, &stale)
	if errors.Is(err, sql.ErrNoRows) {
		return true, nil
	}
	return stale || key != settingsKey, explain(s.path, err)
}

// All gives the current measurement of every photo, without outlines and pictures, sorted by day, plant, view, name
// and hash; photos without a date come first. Photos whose measurement is stale are among them. A record that is not what
// was stored is left out; see Damaged.
func (s *Store) All(ctx context.Context) ([]record.Photo, error) {
	return s.query(ctx, "SELECT "+rowColumns+" FROM measurements ORDER BY day, plant, view, name, sha256")
}

// Count gives how many photos All has.
func (s *Store) Count(ctx context.Context) (n int, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT COUNT(*) FROM measurements").Scan(&n)
	return n, explain(s.path, err)
}

// Plant gives All of one plant.
func (s *Store) Plant(ctx context.Context, plant int) ([]record.Photo, error) {
	return s.query(ctx, "SELECT "+rowColumns+" FROM measurements WHERE plant = ? ORDER BY day, plant, view, name, sha256", plant)
}

// History gives the replaced measurements of a photo, oldest first.
func (s *Store) History(ctx context.Context, sha256 string) ([]record.Photo, error) {
	return s.query(ctx, "SELECT "+rowColumns+" FROM history WHERE sha256 = ? ORDER BY id", sha256)
}

// query reads rows in order, and compares and decodes them on all processors: that takes most of the time.
func (s *Store) query(ctx context.Context, query string, args ...any) ([]record.Photo, error) {
	rows, err := s.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	var raw []row
	for rows.Next() {
		var r row
		if err := rows.Scan(r.into()...); err != nil {
			return nil, explain(s.path, err)
		}
		raw = append(raw, r)
	}
	if err := rows.Err(); err != nil {
		return nil, explain(s.path, err)
	}
	rows.Close()
	out := make([]record.Photo, len(raw))
	sound := make([]bool, len(raw))
	var wait sync.WaitGroup
	step := runtime.NumCPU()
	for w := range step {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := w; i < len(raw); i += step {
				out[i], sound[i] = raw[i].photo()
			}
		}()
	}
	wait.Wait()
	kept := out[:0]
	for i := range out {
		if sound[i] {
			kept = append(kept, out[i])
		} else {
			s.noteDamage(Damage{raw[i].sha, s.nameOf(ctx, raw[i].sha), "record"})
		}
	}
	return kept, nil
}

// Picture gives one picture of a photo (plain, overlay, wall, ...); ok is false where there is none, or where it is not
// what was stored (see Damaged).
func (s *Store) Picture(ctx context.Context, sha256, kind string) (data []byte, ok bool, err error) {
	var sum []byte
	err = s.db.QueryRowContext(ctx, "SELECT bytes, sum FROM pictures WHERE sha256 = ? AND kind = ?", sha256, kind).Scan(&data, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err == nil && !bytes.Equal(sum, pictureSum(sha256, kind, data)) {
		s.noteDamage(Damage{sha256, s.nameOf(ctx, sha256), "picture"})
		return nil, false, nil
	}
	return data, err == nil, explain(s.path, err)
}

// nameOf is the name of a photo as its row has it.
func (s *Store) nameOf(ctx context.Context, sha256 string) (name string) {
	if s.db.QueryRowContext(ctx, "SELECT name FROM measurements WHERE sha256 = ?", sha256).Scan(&name) != nil {
		return sha256
	}
	return name
}

// Raw gives what is stored of a photo as it lies there: its record, its drawings and a picture of a kind; empty where there
// is none. It serves to see whether anything has changed; quantities are left out.
func (s *Store) Raw(ctx context.Context, sha256, kind string) (parts [3][]byte, err error) {
	err = s.db.QueryRowContext(ctx, `SELECT m.doc, d.doc, p.bytes FROM measurements m LEFT JOIN drawings d USING (sha256)
		LEFT JOIN pictures p ON p.sha256 = m.sha256 AND p.kind = ? WHERE m.sha256 = ?`, kind, sha256).Scan(&parts[0], &parts[1], &parts[2])
	if errors.Is(err, sql.ErrNoRows) {
		return parts, nil
	}
	return parts, explain(s.path, err)
}

// Pictures gives the pictures of a photo of the kinds named, or all where none is named.
func (s *Store) Pictures(ctx context.Context, sha256 string, kinds ...string) (map[string][]byte, error) {
	query, args := "SELECT kind, bytes, sum FROM pictures WHERE sha256 = ?", []any{sha256}
	if len(kinds) > 0 {
		query += " AND kind IN (?" + strings.Repeat(", ?", len(kinds)-1) + ")"
		for _, k := range kinds {
			args = append(args, k)
		}
	}
	rows, err := s.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	out := map[string][]byte{}
	for rows.Next() {
		var kind string
		var data, sum []byte
		if err := rows.Scan(&kind, &data, &sum); err != nil {
			return nil, explain(s.path, err)
		}
		if !bytes.Equal(sum, pictureSum(sha256, kind, data)) {
			s.noteDamage(Damage{sha256, s.nameOf(ctx, sha256), "picture"})
			continue
		}
		out[kind] = data
	}
	return out, explain(s.path, rows.Err())
}

// Names gives all paths under which a photo was seen, sorted.
func (s *Store) Names(ctx context.Context, sha256 string) ([]string, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT path FROM names WHERE sha256 = ? ORDER BY path", sha256)
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var path string
		if err := rows.Scan(&path); err != nil {
			return nil, explain(s.path, err)
		}
		out = append(out, path)
	}
	return out, explain(s.path, rows.Err())
}

// MarkStale marks the measurements whose settings key differs from what keyOf gives for them now, takes the mark from
// the others, and gives the hashes of the stale ones in the order of All. Nothing is deleted.
func (s *Store) MarkStale(ctx context.Context, keyOf func(p *record.Photo) string) ([]string, error) {
	all, err := s.All(ctx)
	if err != nil {
		return nil, err
	}
	was, err := s.staleSet(ctx)
	if err != nil {
		return nil, err
	}
	var stale []string
	flip := map[string]bool{}
	for i := range all {
		p := &all[i]
		due := keyOf(p) != p.SettingsKey
		if due {
			stale = append(stale, p.SHA256)
		}
		if due != was[p.SHA256] {
			flip[p.SHA256] = due
		}
	}
	if len(flip) == 0 {
		return stale, nil
	}
	return stale, s.write(ctx, func(tx *sql.Tx) error {
		w := txWriter{ctx: ctx, tx: tx}
		for sha, due := range flip {
			w.exec("UPDATE measurements SET stale = ? WHERE sha256 = ?", due, sha)
		}
		return w.err
	})
}

func (s *Store) staleSet(ctx context.Context) (map[string]bool, error) {
	return s.hashes(ctx, "SELECT sha256 FROM measurements WHERE stale <> 0")
}

// hashes reads one column of content hashes.
func (s *Store) hashes(ctx context.Context, query string) (map[string]bool, error) {
	rows, err := s.db.QueryContext(ctx, query)
	if err != nil {
		return nil, explain(s.path, err)
	}
	defer rows.Close()
	out := map[string]bool{}
	for rows.Next() {
		var sha string
		if err := rows.Scan(&sha); err != nil {
			return nil, explain(s.path, err)
		}
		out[sha] = true
	}
	return out, explain(s.path, rows.Err())
}
