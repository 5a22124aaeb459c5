package collection

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

// newCollection makes a collection with the given files in it.
func newCollection(t *testing.T, files map[string]string) *Collection {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := Init(dir)
	require.NoError(t, err)
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	c, err := Open(dir)
	require.NoError(t, err)
	return c
}

func TestInitMakesACleanCollection(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench")
	made, err := Init(dir)
	require.NoError(t, err)
	assert.Equal(t, []string{"inbox/", "photos/", "reports/", "marks/", "cards.csv", "corrections.csv", "counts.csv", "events.csv", "parts.csv", "plants.csv", "settings.toml", "watch.csv"}, made)
	c, err := Open(dir)
	require.NoError(t, err)
	assert.Empty(t, c.Problems)
	assert.Equal(t, DefaultSettings(), c.Settings, "the shipped file says exactly the defaults")
	assert.Len(t, c.Rules, 3)

	require.NoError(t, os.WriteFile(filepath.Join(dir, PlantsFile), []byte("number,name\n7,Seven\n"), 0o644))
	made, err = Init(dir)
	require.NoError(t, err)
	assert.Empty(t, made, "a second time nothing is made")
	text, _ := os.ReadFile(filepath.Join(dir, PlantsFile))
	assert.Equal(t, "number,name\n7,Seven\n", string(text))

	require.NoError(t, os.Remove(filepath.Join(dir, EventsFile)))
	made, err = Init(dir)
	require.NoError(t, err)
	assert.Equal(t, []string{EventsFile}, made)
}

func TestInitRefusesAFolderOfOtherThings(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "letter.odt"), []byte("x"), 0o644))
	_, err := Init(dir)
	require.ErrorIs(t, err, ErrNotEmpty)
	assert.Contains(t, err.Error(), "letter.odt")
	entries, _ := os.ReadDir(dir)
	assert.Len(t, entries, 1, "nothing was made")
	_, err = Open(dir)
	require.ErrorIs(t, err, ErrNoCollection)
	_, err = Open(filepath.Join(dir, "nowhere"))
	require.ErrorIs(t, err, ErrNoCollection)
}

func TestPotAtChangesOnTheDayAfterTheEvent(t *testing.T) {
	c := newCollection(t, map[string]string{
		PlantsFile: "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm\n31,Vanda,vanda,100,84,100\n",
		EventsFile: "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-03-21,31,repot,bark,120,100,125\n2026-05-01,31,feed,,,,\n",
	})
	assert.Empty(t, c.Problems)
	old, fresh := record.Pot{TopMM: 100, BottomMM: 84, HeightMM: 100}, record.Pot{TopMM: 120, BottomMM: 100, HeightMM: 125}
	assert.Equal(t, old, c.PotAt(31, "2026-03-20"))
	assert.Equal(t, old, c.PotAt(31, "2026-03-21"), "the event's own day counts as before")
	assert.Equal(t, fresh, c.PotAt(31, "2026-03-22"))
	assert.Equal(t, fresh, c.PotAt(31, "2026-06-01"), "a feed does not take the pot away")
	assert.Equal(t, fresh, c.PotAt(31, ""))
	assert.Equal(t, record.Pot{}, c.PotAt(7, "2026-06-01"))
}
