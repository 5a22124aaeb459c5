package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A folder measured in parts and merged gives what one run gives, whatever the order of the parts, with one brought in
// twice, and with one brought in later; a plain run afterwards has nothing to do.
func TestPartsMergedAreOneRun(t *testing.T) {
	folder := smallPhotos(t, 16)
	// The same content under a second name, and a photo without a date of its own.
	copyFile(t, filepath.Join(folder, "0_012_2026-03_L.jpg"), filepath.Join(folder, "again.jpg"))
	data, err := os.ReadFile(filepath.Join(folder, "0_012_2026-04_L.jpg"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "undated.jpg"), withoutExif(t, data), 0o644))

	one := samples(t, func(string) bool { return false })
	program(t, "run", folder, "--no-report", "--date", "2026-08-01", "--collection", one)
	want := exported(t, one)

	results := t.TempDir()
	parts := samples(t, func(string) bool { return false })
	measure := func(k int) string {
		code, out, errs := program(t, "run", folder, "--part", strconv.Itoa(k)+"/3", "--results", results, "--date", "2026-08-01", "--collection", parts)
		require.LessOrEqual(t, code, 1, errs)
		return out
	}
	merge := func(dir string) string {
		code, out, errs := program(t, "merge", dir, "--collection", parts)
		require.LessOrEqual(t, code, 1, errs)
		return out
	}
	measure(3)
	assert.NoFileExists(t, filepath.Join(parts, "phototrack.db"), "measuring a part leaves the store alone")
	assert.Contains(t, merge(results), "part 1/3, 2/3")
	measure(1)
	merge(results)
	out := merge(results)
	assert.Contains(t, out, " 0 brought in")
	assert.Contains(t, out, "part 2/3")
	assert.Contains(t, measure(1), " 0 measured", "results that are there are not made again")
	measure(2)
	assert.NotContains(t, merge(results), "to the end")
	assert.True(t, want == exported(t, parts), "exports differ")
	assert.Equal(t, originals(t, one), originals(t, parts))
	_, out, _ = program(t, "run", folder, "--no-report", "--collection", parts)
	assert.Contains(t, out, " 0 measured")
	assert.True(t, want == exported(t, parts), "exports differ after a plain run")

	// A result that is damaged, and results of other settings, are named and left out.
	files, err := filepath.Glob(filepath.Join(results, "*.result"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	require.NoError(t, os.Truncate(files[0], 500))
	settings := filepath.Join(parts, "settings.toml")
	text, err := os.ReadFile(settings)
	require.NoError(t, err)
	changed := strings.Replace(string(text), "slope_deg = 10", "slope_deg = 12", 1)
	require.NotEqual(t, string(text), changed)
	require.NoError(t, os.WriteFile(settings, []byte(changed), 0o644))
	out = merge(results)
	assert.Contains(t, out, "not a whole result file")
	assert.Contains(t, out, "left out, measured with other settings")
	assert.Contains(t, out, " 0 brought in")
}

// originals are the kept originals, as paths within the collection.
func originals(t testing.TB, dir string) (out []string) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, "photos", "*", "*"))
	require.NoError(t, err)
	for _, f := range all {
		rel, err := filepath.Rel(dir, f)
		require.NoError(t, err)
		out = append(out, rel)
	}
	return
}

func TestPartsSpeakPlainly(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	for name, args := range map[string][]string{
		"part alone":             {"run", "--part", "1/2"},
		"results alone":          {"run", "--results", t.TempDir()},
		"no such part":           {"run", "--part", "3/2", "--results", t.TempDir()},
		"results among photos":   {"run", "--part", "1/2", "--results", filepath.Join(dir, "inbox", "results")},
		"merge of nothing there": {"merge", filepath.Join(dir, "nowhere")},
	} {
		t.Run(name, func(t *testing.T) {
			code, _, errs := program(t, append(args, "--collection", dir)...)
			assert.Equal(t, 2, code)
			assert.Contains(t, errs, "hint:")
		})
	}
}
