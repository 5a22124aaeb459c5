//go:build amd64

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/killtest"
	"phototrack/internal/reftest"
)

// tinyPhotos puts photos into a collection's inbox that are refused soon, at a quarter of their size; they are stored all the same.
func tinyPhotos(t *testing.T, dir string, names ...string) {
	t.Helper()
	for _, name := range names {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "inbox", name), smaller(t, "../../samples/photos/"+name, 4, 0), 0o644))
	}
}

// done runs a command within this process, which must come to its end.
func done(t *testing.T, args ...string) {
	t.Helper()
	code, out, errs := inProcess(args...)
	require.LessOrEqual(t, code, 1, "%v: %s%s", args, out, errs)
}

// Another command that writes comes in before a command has its lock: what it did is neither lost nor overwritten, for lists,
// marks and store are opened behind the lock. With the lock held, the other one is refused.
func TestWhatIsDoneBeforeTheLockIsKept(t *testing.T) {
	base := samples(t, func(string) bool { return false })
	home := t.TempDir()
	older, results := filepath.Join(home, "older.zip"), filepath.Join(home, "results")
	tinyPhotos(t, base, "012_2026-03_L.jpg")
	done(t, "run", "--no-report", "--collection", base)
	done(t, "backup", older, "--collection", base)
	tinyPhotos(t, base, "012_2026-04_L.jpg")
	done(t, "run", "--no-report", "--collection", base)
	tinyPhotos(t, base, "012_2026-05_L.jpg")
	done(t, "run", "--part", "1/1", "--results", results, "--collection", base)

	hash := strings.Repeat("ab", 32)
	marks := func(name string) string {
		path := filepath.Join(home, name+".json")
		data, err := collection.EncodeMarks(collection.PhotoMarks{SHA256: hash, Name: name,
			Marks: []collection.Mark{{What: collection.MarkKeep, Rings: [][][2]float64{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}}})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, data, 0o644))
		return path
	}
	ours, theirs := marks("ours.jpg"), marks("theirs.jpg")
	files := func(t *testing.T, dir string) string {
		all, err := filepath.Glob(filepath.Join(dir, "marks", "*.json"))
		require.NoError(t, err)
		var names []string
		for _, f := range all {
			names = append(names, filepath.Base(f))
		}
		return strings.Join(names, " ")
	}
	for _, tt := range []struct {
		name           string
		command, other []string
		state          func(t *testing.T, dir string) string // what both of them change
	}{
		{"run", []string{"run", "--no-report", "--workers", "1"}, []string{"restore", older}, func(t *testing.T, dir string) string { return exported(t, dir) }},
		{"merge", []string{"merge", results}, []string{"restore", older}, func(t *testing.T, dir string) string { return exported(t, dir) }},
		// A photo that was renamed keeps its file of marks; who does not know of it makes a second one.
		{"marks", []string{"marks", "import", ours}, []string{"marks", "import", theirs}, files},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if tt.name == "run" {
				reftest.Slow(t)
			}
			with := func(dir string, args []string) []string {
				return append(append([]string{}, args...), "--collection", dir)
			}
			alone, after := copyOf(t, base), copyOf(t, base)
			done(t, with(alone, tt.command)...)
			done(t, with(after, tt.other)...)
			between := tt.state(t, after)
			done(t, with(after, tt.command)...)
			wantAlone, wantAfter := tt.state(t, alone), tt.state(t, after)
			if tt.name != "marks" {
				require.NotEqual(t, between, wantAfter, "the command adds to what the other one left")
			}
			before := 0
			for n := 1; ; n++ {
				dir := copyOf(t, base)
				var code int
				var said string
				calls, met, exit, err := killtest.Meanwhile(exec.Command(bin, with(dir, tt.command)...), dir, n, func() {
					code, _, said = inProcess(with(dir, tt.other)...)
				})
				require.NoError(t, err)
				require.True(t, met)
				require.LessOrEqual(t, exit, 1)
				at := fmt.Sprintf("before change %d, a %s", n, calls[n-1])
				if code == exitFailed { // the lock is held
					assert.Contains(t, said, "being written by another", at)
					assert.True(t, wantAlone == tt.state(t, dir), at)
					break
				}
				before++
				assert.True(t, wantAfter == tt.state(t, dir), at)
			}
			assert.Positive(t, before, "it was held before it had its lock")
		})
	}
}
