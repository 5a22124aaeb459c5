package desk

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A file edited from outside is read and analysed before somebody asks for a page; the photos, which have not changed, are
// not read again.
func TestAnEditIsReadAhead(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg")
	var before *snapshot
	require.Eventually(t, func() bool { // until what was measured lies a while back
		s, done, err := b.desk.now(context.Background())
		require.NoError(t, err)
		done()
		before = s
		return s.settled(s.state.storeAt)
	}, 20*time.Second, 50*time.Millisecond)
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "plants.csv"), []byte(b.file(t, "plants.csv")+"70,By hand,,,,,,,\n"), 0o644))
	require.Eventually(t, func() bool {
		b.desk.look.Lock()
		s := b.desk.seen
		b.desk.look.Unlock()
		if s == before {
			return false
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		return len(s.byTime) == 1
	}, 10*time.Second, 20*time.Millisecond)
	after, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	p, listed := after.c.Plant(70)
	assert.True(t, listed)
	assert.Equal(t, "By hand", p.Name)
	require.Len(t, after.photos, 1)
	assert.True(t, &before.photos[0] == &after.photos[0])
	whole, err := after.whole(context.Background(), after.photos[0].SHA256)
	require.NoError(t, err)
	assert.NotEmpty(t, whole.Outlines)
}
