//go:build amd64

package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/killtest"
	"phototrack/internal/reftest"
	"phototrack/internal/series"
)

// placesADay is at about how many places of each command the ordinary test kills; the long one kills at all of them.
const placesADay = 2

// A command that is cut off before any of its changes on the disk leaves what the next command finds, says and settles:
// nothing is lost, nothing is half there, and nothing is left lying about. Restore, backup, merge and run; edits are tested
// in package collection.
func TestKilledAtEverySystemCall(t *testing.T) {
	reftest.Slow(t)
	base := samples(t, func(name string) bool { return name == "012_2026-03_L.jpg" })
	small := halfSize(t, "../../samples/photos/031_2026-03_R.jpg", 0)
	require.NoError(t, os.WriteFile(filepath.Join(base, "inbox", "031_2026-03_R.jpg"), small, 0o644))
	before := copyOf(t, base) // nothing measured
	code, out, errs := program(t, "run", "--no-report", "--collection", base)
	require.LessOrEqual(t, code, 1, out+errs)
	want := exported(t, base)
	home := t.TempDir()
	older := filepath.Join(home, "older.zip")
	code, out, errs = program(t, "backup", older, "--collection", base)
	require.Zero(t, code, out+errs)
	results := filepath.Join(home, "results")
	code, out, errs = program(t, "run", "--part", "1/1", "--results", results, "--collection", before)
	require.LessOrEqual(t, code, 1, out+errs)

	again := func(t *testing.T, dir string, args ...string) string {
		code, out, errs := program(t, append(args, "--collection", dir)...)
		require.LessOrEqual(t, code, 1, "%v: %s%s", args, out, errs)
		return out + errs
	}
	for _, tt := range []struct {
		name string
		from string                                               // the collection that it begins with, "" for none
		args func(dir, spare string) []string                     // spare is a folder for what it writes elsewhere
		then func(t *testing.T, dir, spare, at string, done bool) // what must hold afterwards
	}{
		{"restore", base, func(dir, _ string) []string { return []string{"restore", older, "--collection", dir} },
			func(t *testing.T, dir, _, at string, _ bool) {
				st, err := series.OpenReader(filepath.Join(dir, "phototrack.db"))
				require.NoError(t, err, "%s: there is a store at every moment", at)
				n, err := st.Count(context.Background())
				require.NoError(t, err, at)
				assert.Equal(t, 2, n, at)
				st.Close()
				assert.True(t, want == exported(t, dir), at)
				again(t, dir, "restore", older)
				assert.True(t, want == exported(t, dir), at)
			}},
		{"restore into an empty folder", "", func(dir, _ string) []string { return []string{"restore", older, "--collection", dir} },
			func(t *testing.T, dir, _, at string, _ bool) {
				if code, out, errs := program(t, "export", "--out", t.TempDir(), "--collection", dir); code != 0 { // not begun in earnest
					assert.Contains(t, out+errs, "phototrack init", at)
					again(t, dir, "restore", older)
				}
				assert.True(t, want == exported(t, dir), at)
			}},
		{"backup", base, func(dir, spare string) []string {
			return []string{"backup", filepath.Join(spare, "plants.zip"), "--collection", dir}
		}, func(t *testing.T, dir, spare, at string, _ bool) {
			file := filepath.Join(spare, "plants.zip")
			if _, err := os.Stat(file); err == nil { // it got its name: then it is whole
				to := filepath.Join(t.TempDir(), "to")
				again(t, to, "restore", file)
				assert.True(t, want == exported(t, to), at)
			}
			again(t, dir, "backup", filepath.Join(spare, "next.zip"))
			left, err := filepath.Glob(filepath.Join(spare, ".phototrack-*"))
			require.NoError(t, err)
			assert.Empty(t, left, at)
			assert.True(t, want == exported(t, dir), at)
		}},
		{"merge", before, func(dir, _ string) []string { return []string{"merge", results, "--collection", dir} },
			func(t *testing.T, dir, _, at string, _ bool) {
				again(t, dir, "merge", results)
				assert.Equal(t, measurementsOf(want), measurementsOf(exported(t, dir)), at)
			}},
		{"run", before, func(dir, _ string) []string {
			return []string{"run", "--no-report", "--workers", "1", "--collection", dir}
		}, func(t *testing.T, dir, _, at string, _ bool) {
			again(t, dir, "run", "--no-report")
			assert.True(t, want == exported(t, dir), at)
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			try := func(n int) (dir, spare string, calls []string, killed bool) {
				root := t.TempDir()
				dir, spare = filepath.Join(root, "bench"), filepath.Join(root, "spare")
				if tt.from != "" {
					require.NoError(t, os.CopyFS(dir, os.DirFS(tt.from)))
				}
				require.NoError(t, os.Mkdir(spare, 0o755))
				cmd := exec.Command(bin, tt.args(dir, spare)...)
				calls, killed, err := killtest.Run(cmd, root, n)
				require.NoError(t, err)
				return dir, spare, calls, killed
			}
			_, _, calls, _ := try(0)
			step := 1
			if !torture {
				step = max(1, len(calls)/placesADay)
			}
			done := 0
			for n := 1; n <= len(calls); n += step {
				dir, spare, seen, killed := try(n)
				if !killed {
					continue // threads share the work differently each time: this time there were fewer calls
				}
				done++
				at := fmt.Sprintf("%s, killed before change %d of about %d, a %s", tt.name, n, len(calls), seen[n-1])
				tt.then(t, dir, spare, at, false)
				left, err := filepath.Glob(filepath.Join(dir, ".phototrack-*.tmp"))
				require.NoError(t, err)
				assert.Empty(t, left, at)
				assert.NoFileExists(t, filepath.Join(dir, ".phototrack-journal"), at)
				code, out, _ := program(t, "doctor", "--collection", dir)
				assert.LessOrEqual(t, code, 1, at)
				assert.NotContains(t, out, "harm:", at)
				require.NoError(t, os.RemoveAll(filepath.Dir(dir)))
				if t.Failed() {
					return
				}
			}
			t.Logf("%d changes on the disk; killed before %d of them, all as it should be", len(calls), done)
			require.Positive(t, done)
		})
	}
}

// measurementsOf is the part of the exports that says what was measured.
func measurementsOf(all string) string {
	_, rest, _ := strings.Cut(all, "== measurements.csv\n")
	part, _, _ := strings.Cut(rest, "== ")
	return part
}

// copyOf is a copy of a folder.
func copyOf(t testing.TB, dir string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "bench")
	require.NoError(t, os.CopyFS(to, os.DirFS(dir)))
	return to
}
