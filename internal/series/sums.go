package series

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"slices"
	"sort"

	"phototrack/internal/record"
)

// A flipped bit within a row is nothing that SQLite could see. Each measurement, drawing and picture therefore carries the
// SHA-256 of what it holds, and every reader compares: a number or a line that is not what was measured is left out and
// named, never shown. Layout: the parts in the order of the columns, each after its length (8 bytes, little-endian).

func sumOf(parts ...[]byte) []byte {
	h := sha256.New()
	var n [8]byte
	for _, p := range parts {
		binary.LittleEndian.PutUint64(n[:], uint64(len(p)))
		h.Write(n[:])
		h.Write(p)
	}
	return h.Sum(nil)
}

// row is a measurement as it lies in the store. Its other columns repeat, for queries and their order, what doc says; the
// checks compare them.
type row struct {
	sha             string
	doc, quantities []byte
	sum             []byte
}

// rowColumns are the columns of a row, in the order in which they are read.
const rowColumns = "sha256, doc, quantities, sum"

func (r *row) into() []any { return []any{&r.sha, &r.doc, &r.quantities, &r.sum} }

func (r *row) wanted() []byte { return sumOf([]byte(r.sha), r.doc, r.quantities) }

func (r *row) sound() bool { return bytes.Equal(r.sum, r.wanted()) }

// photo decodes a row; ok is false where it is not what was stored.
func (r *row) photo() (p record.Photo, ok bool) {
	if !r.sound() {
		return p, false
	}
	p, err := decodePhoto(r.doc, r.quantities)
	return p, err == nil && p.SHA256 == r.sha
}

func drawingSum(sha string, doc []byte) []byte { return sumOf([]byte(sha), doc) }

func pictureSum(sha, kind string, data []byte) []byte { return sumOf([]byte(sha), []byte(kind), data) }

// Damage is something stored that is not what was written.
type Damage struct {
	SHA256 string // of the photo
	Name   string // of the photo, as far as it can still be read
	What   string // record | drawing | picture
}

// noteDamage remembers what a reader met.
func (s *Store) noteDamage(list ...Damage) {
	s.reading.Lock()
	defer s.reading.Unlock()
	for _, d := range list {
		if !slices.Contains(s.damaged, d) {
			s.damaged = append(s.damaged, d)
		}
	}
}

// mended forgets the damage of a photo that was stored anew.
func (s *Store) mended(sha256 string) {
	s.reading.Lock()
	defer s.reading.Unlock()
	s.damaged = slices.DeleteFunc(s.damaged, func(d Damage) bool { return d.SHA256 == sha256 })
}

// Damaged gives what this store's readers have met so far that is not what was written, by name. It was left out of what
// they gave.
func (s *Store) Damaged() []Damage {
	s.reading.Lock()
	defer s.reading.Unlock()
	out := slices.Clone(s.damaged)
	sort.SliceStable(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// Remeasure has photos measured again by the next run; Put takes the mark away.
func (s *Store) Remeasure(ctx context.Context, list ...Damage) error {
	if len(list) == 0 {
		return nil
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		w := txWriter{ctx: ctx, tx: tx}
		for _, d := range list {
			w.exec("INSERT OR REPLACE INTO remeasure (sha256, why) VALUES (?, ?)", d.SHA256, "the stored "+d.What+" was damaged")
		}
		return w.err
	})
}

// ToRemeasure gives the hashes of the photos that Remeasure was told of.
func (s *Store) ToRemeasure(ctx context.Context) (map[string]bool, error) {
	return s.hashes(ctx, "SELECT sha256 FROM remeasure")
}

// fillSums gives what an older program has stored its checksums. A record that cannot be read gets none, and is met as
// damaged.
func fillSums(ctx context.Context, tx *sql.Tx) error {
	for _, table := range []string{"measurements", "history"} {
		err := eachRow(ctx, tx, table, rowColumns, func(scan func(...any) error) ([]byte, error) {
			var r row
			if err := scan(r.into()...); err != nil {
				return nil, err
			}
			if p, err := decodePhoto(r.doc, r.quantities); err != nil || p.SHA256 != r.sha {
				return nil, nil
			}
			return r.wanted(), nil
		})
		if err != nil {
			return err
		}
	}
	err := eachRow(ctx, tx, "drawings", "sha256, doc", func(scan func(...any) error) ([]byte, error) {
		var sha string
		var data []byte
		if err := scan(&sha, &data); err != nil {
			return nil, err
		}
		if _, err := decodeDrawings(data); err != nil {
			return nil, nil
		}
		return drawingSum(sha, data), nil
	})
	if err != nil {
		return err
	}
	return eachRow(ctx, tx, "pictures", "sha256, kind, bytes", func(scan func(...any) error) ([]byte, error) {
		var sha, kind string
		var data []byte
		err := scan(&sha, &kind, &data)
		return pictureSum(sha, kind, data), err
	})
}

// eachRow gives every row of a table the sum that is made of its columns, none where the sum is nil.
func eachRow(ctx context.Context, tx *sql.Tx, table, columns string, sumFor func(scan func(...any) error) ([]byte, error)) error {
	ids, err := rowIDs(ctx, tx, table)
	if err != nil {
		return err
	}
	for _, id := range ids {
		sum, err := sumFor(tx.QueryRowContext(ctx, "SELECT "+columns+" FROM "+table+" WHERE rowid = ?", id).Scan)
		if err != nil {
			return err
		}
		if sum == nil {
			continue
		}
		if _, err := tx.ExecContext(ctx, "UPDATE "+table+" SET sum = ? WHERE rowid = ?", sum, id); err != nil {
			return err
		}
	}
	return nil
}

func rowIDs(ctx context.Context, tx *sql.Tx, table string) (out []int64, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT rowid FROM "+table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		out = append(out, id)
	}
	return out, rows.Err()
}
