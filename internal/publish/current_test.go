package publish

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

func TestWhatWasSetRightIsNotAskedForAgain(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.jpg")
	photos := []record.Photo{
		{Name: "bad.jpg", Path: bad, Status: record.Rejected, Reasons: []record.Reason{{Code: gate.NoCard}}},
		{Name: "new.jpg", Path: filepath.Join(dir, "new.jpg"), Plant: 12, Status: record.Flagged, Reasons: []record.Reason{{Code: gate.UnknownTag}}},
	}
	c := &collection.Collection{}
	require.NoError(t, os.WriteFile(bad, nil, 0o644))
	assert.Len(t, current(c, photos), 2)
	require.NoError(t, os.Remove(bad))
	assert.Len(t, current(c, photos), 2, "the folder was emptied: that says nothing of the one photo")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "other.jpg"), nil, 0o644))
	assert.Len(t, current(c, photos), 1, "deleted from among others")

	c.Plants = []record.Plant{{Number: 12}}
	now := current(c, photos)
	assert.Equal(t, record.Accepted, now[0].Status)
	assert.Empty(t, now[0].Reasons)
	assert.Len(t, photos[1].Reasons, 1, "what is stored stays")
}
