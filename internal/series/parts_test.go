package series

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func TestSeveralPartsKeepTheSameQuantity(t *testing.T) {
	s := newStore(t)
	want := benchPhoto(1)
	plain := encodeQuantities(want.Quantities)
	assert.Equal(t, byte(codecVersion), plain[0], "a photo without parts keeps its bytes")
	for i, part := range []string{"spike 1", "spike 2"} {
		want.Quantities = append(want.Quantities, record.Quantity{Name: record.PartLength, Part: part, Unit: "mm", Value: 100 + float64(i), U95: 1,
			Terms: []record.Term{{Name: "pointing", U: 0.5, Shape: record.Normal}}})
	}
	require.NoError(t, s.Put(ctx, want))
	got, ok, err := s.Get(ctx, want.SHA256)
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, want.Quantities, got.Quantities)
	q, ok := got.FindPart(record.PartLength, "spike 2")
	assert.True(t, ok)
	assert.Equal(t, 101.0, q.Value)
	_, ok = got.Find(record.PartLength)
	assert.False(t, ok, "no length of the whole plant")
	var n int
	require.NoError(t, s.db.QueryRow("SELECT COUNT(*) FROM quantities WHERE name = 'part_length'").Scan(&n))
	assert.Equal(t, 2, n)
}

func TestAStoreOfTheFirstSchemaGainsTheColumn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := open(path, options{migrations: migrations[:1]})
	require.NoError(t, err)
	p := benchPhoto(1)
	doc, err := encodeHead(p)
	require.NoError(t, err)
	for _, q := range []string{
		"INSERT INTO photos VALUES ('" + p.SHA256 + "', 1, '')",
		"INSERT INTO measurements VALUES ('" + p.SHA256 + "', 'a', 1, 'leaf', '2026-05-01', 'accepted', 'k', 0, '', ?, x'010000')",
		"INSERT INTO quantities (sha256, name, unit, value, u95) VALUES ('" + p.SHA256 + "', 'leaf_area', 'mm2', 5, 1)",
	} {
		var args []any
		if strings.Contains(q, "?") {
			args = append(args, string(doc))
		}
		_, err := s.db.Exec(q, args...)
		require.NoError(t, err)
	}
	require.NoError(t, s.Close())
	s, err = Open(path)
	require.NoError(t, err)
	defer s.Close()
	var name, part string
	require.NoError(t, s.db.QueryRow("SELECT name, part FROM quantities").Scan(&name, &part))
	assert.Equal(t, "leaf_area", name)
	assert.Empty(t, part)
	require.NoError(t, s.Put(ctx, p))
}
