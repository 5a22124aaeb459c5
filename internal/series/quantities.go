package series

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// checkQuantities compares the rows of the table quantities with the records.
func (s *Store) checkQuantities(ctx context.Context, rep *Report) error {
	rows, err := s.db.QueryContext(ctx, "SELECT sha256, name, part, unit, value, u95 FROM quantities ORDER BY sha256, name, part")
	if err != nil {
		return err
	}
	defer rows.Close()
	have := map[string]string{}
	for rows.Next() {
		var sha, name, part, unit string
		var value, u95 sql.NullFloat64
		if err := rows.Scan(&sha, &name, &part, &unit, &value, &u95); err != nil {
			return err
		}
		have[sha] += fmt.Sprintln(name, part, unit, value.Float64, u95.Float64)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	photos, err := s.All(ctx)
	if err != nil {
		return err
	}
	for i := range photos {
		p := &photos[i]
		last := map[string]string{}
		for _, q := range p.Quantities {
			last[string(q.Name)+"\x00"+q.Part] = fmt.Sprintln(q.Name, q.Part, q.Unit, q.Value, q.U95)
		}
		want := ""
		for _, name := range slices.Sorted(maps.Keys(last)) {
			want += last[name]
		}
		if have[p.SHA256] != want {
			rep.Copied = append(rep.Copied, "the rows of "+p.Name+" in the table quantities are damaged: they are not those of its record")
		}
		delete(have, p.SHA256)
	}
	for _, d := range s.Damaged() {
		delete(have, d.SHA256) // named already
	}
	if len(have) > 0 {
		rep.Copied = append(rep.Copied, "the table quantities is damaged: it has rows of photos that are not in the store")
	}
	return nil
}

// ofQuantities says whether what SQLite finds wrong is in the table quantities alone.
func ofQuantities(fault string) bool {
	return strings.Contains(fault, "quantities") && !strings.Contains(fault, "measurements.") && !strings.Contains(fault, "history.")
}

// RemakeQuantities makes the table quantities anew from the records, as they are stored: nothing has to be measured for it. Rows
// of which the key itself is damaged are out of their order, where no statement that looks for them finds them.
func (s *Store) RemakeQuantities(ctx context.Context) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		w := txWriter{ctx: ctx, tx: tx}
		w.exec("DROP TABLE IF EXISTS quantities")
		w.exec(quantitiesTable)
		w.exec(quantitiesInPlace)
		if w.err != nil {
			return w.err
		}
		records, err := readRows(ctx, tx)
		if err != nil {
			return err
		}
		for i := range records {
			if p, ok := records[i].photo(); ok {
				w.quantities(&p)
			}
		}
		return w.err
	})
}

// readRows are all records, sound or not.
func readRows(ctx context.Context, tx *sql.Tx) (out []row, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT "+rowColumns+" FROM measurements")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var r row
		if err := rows.Scan(r.into()...); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}
