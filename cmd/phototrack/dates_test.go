package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
)

// A date that only the name of the photo's folder tells is put on record: it outlives both the folder and the store, and being
// put on record does not make the photo due again.
func TestADateFromAFolderOutlivesTheStore(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	folder := filepath.Join(dir, "inbox", "2026-05-14")
	require.NoError(t, os.Mkdir(folder, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "clivia.jpg"), withoutExif(t, smaller(t, "../../samples/photos/012_2026-03_L.jpg", 2, 0)), 0o644))
	code, out, errs := program(t, "run", "--no-report", "--collection", dir)
	require.LessOrEqual(t, code, 1, out+errs)
	corrections, err := os.ReadFile(filepath.Join(dir, collection.CorrectionsFile))
	require.NoError(t, err)
	assert.Contains(t, string(corrections), "2026-05-14")
	assert.Contains(t, string(corrections), "from the name of the photo's folder")
	code, out, errs = program(t, "run", "--no-report", "--collection", dir)
	require.LessOrEqual(t, code, 1, out+errs)
	again, err := os.ReadFile(filepath.Join(dir, collection.CorrectionsFile))
	require.NoError(t, err)
	assert.Equal(t, string(corrections), string(again), "once")
	before := storedPhotos(t, dir)
	require.Len(t, before, 1)

	require.NoError(t, os.RemoveAll(folder))
	require.NoError(t, os.Remove(filepath.Join(dir, "phototrack.db")))
	code, out, errs = program(t, "run", "--anew", "--no-report", "--collection", dir)
	require.LessOrEqual(t, code, 1, out+errs)
	after := storedPhotos(t, dir)
	require.Len(t, after, 1)
	assert.Equal(t, "2026-05-14", after[0].Taken.Day())
	assert.Equal(t, before[0].SettingsKey, after[0].SettingsKey)
}

// An event with a date after today is noted, and the slip that it may be is pointed at; one of today or before is not.
func TestAnEventAfterTodayIsPointedAt(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	next := time.Now().AddDate(1, 0, 0).Format(time.DateOnly)
	code, out, errs := program(t, "event", next, "12", "feed", "--collection", dir)
	require.Zero(t, code, out+errs)
	assert.Contains(t, errs, next+" lies in the future")
	assert.Contains(t, errs, "events.csv")
	code, out, errs = program(t, "event", time.Now().AddDate(0, 0, -1).Format(time.DateOnly), "12", "feed", "--collection", dir)
	require.Zero(t, code, out+errs)
	assert.NotContains(t, out+errs, "future")
	lines, err := os.ReadFile(filepath.Join(dir, "events.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(lines), next+",12,feed", "it is noted all the same")
}
