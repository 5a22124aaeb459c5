package series

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a check finds and what mends it: flipped bits, dropped tables, rows that are not those of the records.

func TestCheckFindsDamage(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	for i := range 60 {
		require.NoError(t, s.Put(ctx, benchPhoto(i)))
	}
	found, err := s.Check(ctx)
	require.NoError(t, err)
	assert.True(t, found.Empty(), found.First())
	_, err = s.db.Exec("UPDATE measurements SET quantities = x'0105' WHERE sha256 = ?", hashOf(3))
	require.NoError(t, err)
	found, err = s.Check(ctx)
	require.NoError(t, err)
	assert.Equal(t, []Damage{{hashOf(3), benchPhoto(3).Name, "record"}}, found.Damaged)
	require.NoError(t, s.Close())

	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := 20 * 4096; i < 40*4096; i++ { // twenty pages of zeros, as a dying disk leaves them
		data[i] = 0
	}
	require.NoError(t, os.WriteFile(path, data, 0o644))
	s, err = Open(path)
	require.NoError(t, err)
	defer s.Close()
	found, err = s.Check(ctx)
	require.NoError(t, err)
	assert.False(t, found.Empty())
}

// One flipped bit in any part of what is stored of a photo: nothing of it is given out any more, the check names the photo,
// a backup is refused, and measuring it again mends all.
func TestAFlippedBitIsMet(t *testing.T) {
	for _, tt := range []struct{ table, column, what string }{
		{"measurements", "quantities", "record"}, {"measurements", "doc", "record"}, {"measurements", "name", "column"}, {"measurements", "day", "column"},
		{"measurements", "settings_key", "column"}, {"measurements", "sum", "record"}, {"drawings", "doc", "drawing"}, {"pictures", "bytes", "picture"},
	} {
		name := tt.table + "." + tt.column
		path := filepath.Join(t.TempDir(), "phototrack.db")
		s, err := Open(path)
		require.NoError(t, err)
		for i := range 3 {
			require.NoError(t, s.Put(ctx, benchPhoto(i)))
		}
		var value []byte
		require.NoError(t, s.db.QueryRow("SELECT CAST("+tt.column+" AS BLOB) FROM "+tt.table+" WHERE sha256 = ?", hashOf(1)).Scan(&value), name)
		value[len(value)/2] ^= 1
		var put any = value
		if strings.Contains("doc name day settings_key", tt.column) && tt.table == "measurements" {
			put = string(value)
		}
		_, err = s.db.Exec("UPDATE "+tt.table+" SET "+tt.column+" = ? WHERE sha256 = ?", put, hashOf(1))
		require.NoError(t, err, name)

		if tt.what == "column" { // what a query sorts by; the number itself comes from the record
			found, err := s.Check(ctx)
			require.NoError(t, err)
			require.Len(t, found.Damaged, 1, name)
			require.ErrorIs(t, s.Backup(ctx, path+".backup"), ErrDamaged, name)
			require.NoError(t, s.Close())
			continue
		}
		photos, err := s.All(ctx)
		require.NoError(t, err, name)
		pictures, err := s.Pictures(ctx, hashOf(1))
		require.NoError(t, err, name)
		_, ok, err := s.Get(ctx, hashOf(1))
		switch tt.what {
		case "record":
			assert.Len(t, photos, 2, name)
			assert.ErrorIs(t, err, ErrDamaged, name)
		case "drawing":
			assert.ErrorIs(t, err, ErrDamaged, name)
		case "picture":
			assert.Empty(t, pictures, name) // the statement above wrote both kinds
			assert.True(t, ok)
		}
		require.Len(t, s.Damaged(), 1, name)
		assert.Equal(t, hashOf(1), s.Damaged()[0].SHA256, name)
		assert.Equal(t, tt.what, s.Damaged()[0].What, name)
		found, err := s.Check(ctx)
		require.NoError(t, err)
		assert.Empty(t, found.Faults, name)
		require.NotEmpty(t, found.Damaged, name)
		assert.Equal(t, tt.what, found.Damaged[0].What, name)
		require.ErrorIs(t, s.Backup(ctx, path+".backup"), ErrDamaged, name)

		require.NoError(t, s.Remeasure(ctx, found.Damaged...))
		due, err := s.ToRemeasure(ctx)
		require.NoError(t, err)
		assert.Equal(t, map[string]bool{hashOf(1): true}, due)
		require.NoError(t, s.Put(ctx, benchPhoto(1)))
		found, err = s.Check(ctx)
		require.NoError(t, err)
		assert.True(t, found.Empty(), "%s: %s", name, found.First())
		due, err = s.ToRemeasure(ctx)
		require.NoError(t, err)
		assert.Empty(t, due)
		history, err := s.History(ctx, hashOf(1))
		require.NoError(t, err)
		assert.Empty(t, history, "what was damaged is no measurement")
		require.NoError(t, s.Backup(ctx, path+".backup"), name)
		require.NoError(t, s.Close())
	}
}

func TestADroppedTableOrIndexIsFound(t *testing.T) {
	for _, drop := range []string{"TABLE seen", "TABLE runs", "TABLE pictures", "TABLE history", "INDEX history_sha256"} {
		path := filepath.Join(t.TempDir(), "phototrack.db")
		s, err := Open(path)
		require.NoError(t, err)
		require.NoError(t, s.Put(ctx, benchPhoto(1)))
		_, err = s.db.Exec("PRAGMA foreign_keys = 0; DROP " + drop)
		require.NoError(t, err)
		found, err := s.Check(ctx)
		require.NoError(t, err)
		require.NotEmpty(t, found.Faults, drop)
		assert.Contains(t, found.Faults[0], strings.ToLower(strings.Fields(drop)[0])+" "+strings.Fields(drop)[1]+" is missing")
		require.NoError(t, s.Close())
	}
}

// The rows for queries by hand are compared with the records and made anew from them, whatever has become of them: a key that a
// flipped bit has put out of its order is found by no statement that looks for it.
func TestTheRowsOfQuantitiesAreMadeAnew(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	for i := range 3 {
		require.NoError(t, s.Put(ctx, benchPhoto(i)))
	}
	want := quantityRows(t, s)
	require.Greater(t, len(want), 3)
	harm := map[string]func(){}
	for name, statement := range map[string]string{"a value": "UPDATE quantities SET value = value + 1 WHERE sha256 = '" + hashOf(1) + "'",
		"no rows": "DELETE FROM quantities WHERE sha256 = '" + hashOf(2) + "'", "no table": "DROP TABLE quantities",
		"rows of nobody": "PRAGMA foreign_keys = 0; INSERT INTO quantities (sha256, name, part, unit) VALUES ('" + hashOf(9) + "', 'leaf_area', '', 'mm2'); PRAGMA foreign_keys = 1"} {
		harm[name] = func() {
			_, err := s.db.Exec(statement)
			require.NoError(t, err)
		}
	}
	harm["a key"] = func() {
		require.NoError(t, s.Close()) // with what the log holds
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		at := bytes.LastIndex(data, []byte(hashOf(1)+string(benchPhoto(1).Quantities[0].Name))) // as it stands in a row of quantities alone
		require.Positive(t, at)
		data[at+len(hashOf(1))] ^= 0x10
		require.NoError(t, os.WriteFile(path, data, 0o644))
		s, err = Open(path)
		require.NoError(t, err)
	}
	for name, do := range harm {
		do()
		found, err := s.Check(ctx)
		require.NoError(t, err, name)
		assert.Empty(t, found.Faults, name)
		assert.Empty(t, found.Damaged, name)
		assert.NotEmpty(t, found.Copied, name)
		require.ErrorIs(t, s.Backup(ctx, filepath.Join(t.TempDir(), "b.db")), ErrDamaged, name)
		require.NoError(t, s.RemakeQuantities(ctx), name)
		found, err = s.Check(ctx)
		require.NoError(t, err, name)
		assert.True(t, found.Empty(), "%s: %s", name, found.First())
		assert.Equal(t, want, quantityRows(t, s), name)
	}
	require.NoError(t, s.Close())
}

func quantityRows(t *testing.T, s *Store) (out []string) {
	t.Helper()
	rows, err := s.db.Query("SELECT sha256 || name || part || unit || value || u95 FROM quantities ORDER BY 1")
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var text string
		require.NoError(t, rows.Scan(&text))
		out = append(out, text)
	}
	require.NoError(t, rows.Err())
	return out
}

// A store of the first schema gets its checksums when it is opened, and nothing else changes.
func TestAnOlderStoreGetsItsChecksums(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	p := benchPhoto(1)
	require.NoError(t, s.Put(ctx, p))
	p.Name = "another.jpg"
	require.NoError(t, s.Put(ctx, p), "so that there is a history")
	_, err = s.db.Exec("DROP TABLE remeasure; PRAGMA user_version = 2")
	require.NoError(t, err)
	for _, table := range []string{"measurements", "history", "drawings", "pictures"} {
		_, err = s.db.Exec("ALTER TABLE " + table + " DROP COLUMN sum")
		require.NoError(t, err)
	}
	require.NoError(t, s.Close())
	_, err = OpenReader(path)
	require.ErrorIs(t, err, ErrReadOnly)

	s, err = Open(path)
	require.NoError(t, err)
	defer s.Close()
	found, err := s.Check(ctx)
	require.NoError(t, err)
	assert.True(t, found.Empty(), found.First())
	got, ok, err := s.Get(ctx, p.SHA256)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, p.Quantities, got.Quantities)
	history, err := s.History(ctx, p.SHA256)
	require.NoError(t, err)
	assert.Len(t, history, 1)
	copies, err := filepath.Glob(path + ".schema2-*")
	require.NoError(t, err)
	assert.Len(t, copies, 1)
}
