package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a run leaves to be done is said by the next one too, until the file is gone; a rule that was not reached is not
// answered; of two photos with one fault each keeps its own numbers.
func TestWhatIsLeftToDo(t *testing.T) {
	dir := samples(t, func(name string) bool {
		return name == "017_2026-06_L.jpg" || name == "017_2026-07_L.jpg" || name == "023_2026-07_L.jpg"
	})
	bad := filepath.Join(dir, "inbox", "torn.jpg")
	require.NoError(t, os.WriteFile(bad, []byte("no picture at all"), 0o644))
	code, out, errs := program(t, "run", "--no-report", "--collection", dir)
	assert.Equal(t, 1, code, errs)
	require.Contains(t, out, "flagged: 017_2026-06_L.jpg, 017_2026-07_L.jpg")
	_, both, _ := strings.Cut(out, "(017_2026-06_L.jpg: up to ")
	first, second, found := strings.Cut(both, "017_2026-07_L.jpg: up to ")
	require.True(t, found, out)
	assert.NotEqual(t, strings.Fields(first)[0]+strings.Fields(first)[3], strings.Fields(second)[0]+strings.Fields(second)[3], out)

	const waits = "1 photo of earlier runs still to be taken again or set right"
	_, out, _ = program(t, "run", "--no-report", "--collection", dir)
	assert.Contains(t, out, waits)
	code, _, errs = program(t, "answer", "17", "yellow_share", "--collection", dir)
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "has not been reached for plant 17")
	code, out, errs = program(t, "answer", "23", "yellow_share", "looked", "--collection", dir)
	assert.Zero(t, code, errs)
	assert.Contains(t, out, "is dealt with for plant 23")

	require.NoError(t, os.Remove(bad))
	_, out, _ = program(t, "run", "--no-report", "--collection", dir)
	assert.NotContains(t, out, "of earlier runs")
}

// A line of plants.csv that cannot be read has no tag, and card says so as run does. A file or folder that is not there is
// named in our words, not in the system's.
func TestFaultsAreNamedInOurWords(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	plants := filepath.Join(dir, "plants.csv")
	data, err := os.ReadFile(plants)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(plants, append(data, "seven,Hoya\n"...), 0o644))
	code, out, errs := program(t, "card", "--out", t.TempDir(), "--collection", dir)
	assert.Zero(t, code)
	assert.Contains(t, out+errs, "plants.csv line 8")
	nowhere := filepath.Join(t.TempDir(), "nowhere.jpg")
	for _, args := range [][]string{{"check", nowhere}, {"run", nowhere, "--collection", dir}, {"merge", nowhere, "--collection", dir}, {"restore", nowhere, "--collection", dir}, {"marks", "import", nowhere, "--collection", dir}} {
		code, out, errs = program(t, args...)
		assert.NotZero(t, code, args)
		said := out + errs
		assert.Contains(t, said, "nowhere.jpg", args)
		assert.Contains(t, said, "hint:", args)
		for _, theirs := range []string{"lstat", "stat /", "no such file", "open /"} {
			assert.NotContains(t, said, theirs, args)
		}
	}
}
