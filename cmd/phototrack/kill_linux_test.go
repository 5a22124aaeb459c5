//go:build amd64

package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/killtest"
	"phototrack/internal/reftest"
	"phototrack/internal/series"
)

// placesADay is at about how many places of each command the ordinary test kills; the long one kills at all of them.
const placesADay = 2

// killCase is a command that is killed.
type killCase struct {
	name string
	from string                            // the collection that it begins with, "" for none
	args func(dir, spare string) []string  // spare is a folder for what it writes elsewhere
	then func(*afterKill) (outcome string) // looks at what is left, and has it settled
	want string                            // the exports in the end
}

// afterKill is what a killed command has left.
type afterKill struct {
	*testing.T
	dir, spare, at string
}

// run runs a command on the collection, which must come to its end.
func (k *afterKill) run(args ...string) {
	k.Helper()
	code, out, errs := inProcess(append(args, "--collection", k.dir)...)
	require.LessOrEqual(k, code, 1, "%s: %v: %s%s", k.at, args, out, errs)
}

// exports are the collection's exports, "" where it cannot be opened; said is what export said.
func (k *afterKill) exports() (text, said string) {
	k.Helper()
	to := filepath.Join(k.spare, "exports")
	defer os.RemoveAll(to)
	code, out, errs := inProcess("export", "--out", to, "--collection", k.dir)
	if code != 0 {
		return "", out + errs
	}
	return tablesIn(k, to), out + errs
}

// photos is the number of photos in the store, which must be there.
func (k *afterKill) photos() int {
	k.Helper()
	st, err := series.OpenReader(filepath.Join(k.dir, "phototrack.db"))
	require.NoError(k, err, "%s: there is a store", k.at)
	defer st.Close()
	n, err := st.Count(context.Background())
	require.NoError(k, err, k.at)
	return n
}

// A command that is cut off before any of its changes on the disk leaves what the next command finds, says and settles:
// nothing is lost, nothing is half there, and nothing is left lying about. Restore, backup, merge and run; edits are tested
// in package collection.
func TestKilledAtEverySystemCall(t *testing.T) {
	reftest.Slow(t)
	base := samples(t, func(string) bool { return false })
	add := func(dir, name string, times int) { // small photos: each page of the store that is written is a place or two
		require.NoError(t, os.WriteFile(filepath.Join(dir, "inbox", name), smaller(t, "../../samples/photos/"+name, times, 0), 0o644))
	}
	accepted := func(dir string) { add(dir, "012_2026-05_L.jpg", 2) }
	rejected := func(dir string) { add(dir, "031_2026-03_R.jpg", 4) }
	run := func(args ...string) {
		code, out, errs := program(t, args...)
		require.LessOrEqual(t, code, 1, out+errs)
	}
	before := copyOf(t, base) // nothing measured
	accepted(before)
	rejected(before)
	home := t.TempDir()
	older, results := filepath.Join(home, "older.zip"), filepath.Join(home, "results")
	accepted(base)
	run("run", "--no-report", "--collection", base)
	run("backup", older, "--collection", base)
	wantOlder := exported(t, base) // one photo
	rejected(base)
	run("run", "--no-report", "--collection", base)
	want := exported(t, base) // two
	require.NotEqual(t, want, wantOlder)
	run("run", "--part", "1/1", "--results", results, "--collection", before)

	for _, tt := range []killCase{
		{"restore", base, func(dir, _ string) []string { return []string{"restore", older, "--collection", dir} },
			func(k *afterKill) string {
				n := k.photos() // at every moment there is a store
				got, said := k.exports()
				assert.True(k, got == want && n == 2 || got == wantOlder, "%s: %s", k.at, said)
				k.run("restore", older)
				switch {
				case got == want:
					return "the store before"
				case n == 2: // it is finished by the next command, which says so
					assert.Contains(k, said, "finished now", k.at)
					return "the store before, the restore finished by the next command"
				}
				return "the backup's store"
			}, wantOlder},
		{"restore into an empty folder", "", func(dir, _ string) []string { return []string{"restore", older, "--collection", dir} },
			func(k *afterKill) string {
				got, said := k.exports()
				if got == "" { // not begun in earnest
					assert.Contains(k, said, "phototrack init", k.at)
					k.run("restore", older)
					return "nothing"
				}
				assert.True(k, wantOlder == got, k.at)
				k.run("run", "--no-report") // a collection like any other
				return "the whole collection"
			}, wantOlder},
		{"backup", base, func(dir, spare string) []string {
			return []string{"backup", filepath.Join(spare, "plants.zip"), "--collection", dir}
		}, func(k *afterKill) (outcome string) {
			outcome = "no backup"
			file := filepath.Join(k.spare, "plants.zip")
			if _, err := os.Stat(file); err == nil { // it got its name: then it is whole
				outcome = "a whole backup"
				to := &afterKill{k.T, filepath.Join(k.spare, "to"), k.spare, k.at}
				to.run("restore", file)
				got, said := to.exports()
				assert.True(k, want == got, "%s: %s", k.at, said)
			}
			k.run("backup", filepath.Join(k.spare, "next.zip"))
			left, err := filepath.Glob(filepath.Join(k.spare, ".phototrack-*"))
			require.NoError(k, err)
			assert.Empty(k, left, k.at)
			return outcome
		}, want},
		{"merge", before, func(dir, _ string) []string { return []string{"merge", results, "--collection", dir} },
			func(k *afterKill) string {
				found := k.stored()
				k.run("merge", results)
				return found
			}, want},
		{"run", before, func(dir, _ string) []string {
			return []string{"run", "--no-report", "--workers", "1", "--collection", dir}
		}, func(k *afterKill) string {
			found := k.stored()
			k.run("run", "--no-report", "--workers", "1")
			return found
		}, want},
	} {
		t.Run(tt.name, tt.kill)
	}
}

// stored says how many photos are in the store, if there is one yet.
func (k *afterKill) stored() string {
	k.Helper()
	if _, err := os.Stat(filepath.Join(k.dir, "phototrack.db")); err != nil {
		return "no store yet"
	}
	st, err := series.OpenReader(filepath.Join(k.dir, "phototrack.db"))
	if err != nil {
		return "a store without tables yet"
	}
	st.Close()
	return fmt.Sprintf("%d photos in the store", k.photos())
}

// kill kills the command at its places, several at once, and looks at what each has left.
func (tt killCase) kill(t *testing.T) {
	calls, _ := tt.try(t, t.TempDir(), 0)
	step := 1
	if !torture {
		step = max(1, len(calls)/placesADay)
	}
	var next atomic.Int64
	var lock sync.Mutex
	outcomes, places, done := map[string]int{}, map[string]int{}, 0
	t.Run("places", func(t *testing.T) {
		for w := range runtime.GOMAXPROCS(0) {
			t.Run(strconv.Itoa(w), func(t *testing.T) {
				t.Parallel()
				home := t.TempDir()
				for !t.Failed() {
					n := 1 + step*int(next.Add(1)-1)
					if !torture && n > len(calls) {
						return
					}
					root := filepath.Join(home, strconv.Itoa(n))
					seen, killed := tt.try(t, root, n)
					if !killed {
						if n > len(calls) {
							return // behind the end
						}
						continue // threads share the work differently each time: this time there were fewer calls
					}
					at := fmt.Sprintf("%s, killed before change %d of about %d, a %s", tt.name, n, len(calls), seen[n-1])
					found := tt.look(&afterKill{t, filepath.Join(root, "bench"), filepath.Join(root, "spare"), at})
					require.NoError(t, os.RemoveAll(root))
					lock.Lock()
					outcomes[found]++
					places[seen[n-1]]++
					done++
					lock.Unlock()
				}
			})
		}
	})
	t.Logf("%d changes on the disk; killed before %d of them: %v; found: %v", len(calls), done, places, outcomes)
	require.Positive(t, done)
	if torture {
		require.GreaterOrEqual(t, done, len(calls)*9/10)
		require.Greater(t, len(outcomes), 1, "before and after were met")
	}
}

// try runs the command in a folder of its own and kills it before its n-th change.
func (tt killCase) try(t *testing.T, root string, n int) (calls []string, killed bool) {
	dir, spare := filepath.Join(root, "bench"), filepath.Join(root, "spare")
	require.NoError(t, os.MkdirAll(spare, 0o755))
	if tt.from != "" {
		require.NoError(t, os.CopyFS(dir, os.DirFS(tt.from)))
	}
	calls, killed, err := killtest.Run(exec.Command(bin, tt.args(dir, spare)...), root, n)
	require.NoError(t, err)
	return calls, killed
}

// look looks at what a killed command has left and has it settled; it says what it found.
func (tt killCase) look(k *afterKill) string {
	found := tt.then(k)
	got, said := k.exports()
	assert.True(k, tt.want == got, "%s: %s", k.at, said)
	left, err := filepath.Glob(filepath.Join(k.dir, ".phototrack-*.tmp"))
	require.NoError(k, err)
	assert.Empty(k, left, k.at)
	assert.NoFileExists(k, filepath.Join(k.dir, ".phototrack-journal"), k.at)
	code, out, _ := inProcess("doctor", "--collection", k.dir)
	assert.LessOrEqual(k, code, 1, k.at)
	assert.NotContains(k, out, "harm:", k.at)
	return found
}

// copyOf is a copy of a folder.
func copyOf(t testing.TB, dir string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "bench")
	require.NoError(t, os.CopyFS(to, os.DirFS(dir)))
	return to
}
