package fsx

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// twoFiles is a folder with two files, and the change of both.
func twoFiles(t *testing.T) (dir string, change []Replacement) {
	t.Helper()
	dir = t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a"), []byte("a1"), 0o640))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "b"), []byte("b1"), 0o644))
	return dir, []Replacement{{"a", []byte("a1"), []byte("a2")}, {"b", []byte("b1"), []byte("b2")}, {"c", nil, []byte("c2")}}
}

func text(t *testing.T, dir, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if os.IsNotExist(err) {
		return "none"
	}
	require.NoError(t, err)
	return string(data)
}

func all(t *testing.T, dir string) string {
	return text(t, dir, "a") + text(t, dir, "b") + text(t, dir, "c")
}

func TestSeveralFilesAreReplacedAsOne(t *testing.T) {
	dir, change := twoFiles(t)
	require.NoError(t, ReplaceTogether(dir, "a change", change...))
	assert.Equal(t, "a2b2c2", all(t, dir))
	assert.Equal(t, []string{"a", "b", "c"}, names(t, dir), "nothing else is left")
	st, err := os.Stat(filepath.Join(dir, "a"))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), st.Mode().Perm())

	dir, change = twoFiles(t)
	change[1].Old = []byte("other")
	require.ErrorIs(t, ReplaceTogether(dir, "a change", change...), ErrNotSame)
	assert.Equal(t, "a1b1none", all(t, dir), "none is changed where one is not as expected")
	assert.Equal(t, []string{"a", "b"}, names(t, dir))

	dir, change = twoFiles(t)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "c"), []byte("c0"), 0o644))
	require.ErrorIs(t, ReplaceTogether(dir, "a change", change...), ErrNotSame)
	assert.Equal(t, "a1b1c0", all(t, dir), "a file that has come since is not overwritten")
}

func TestALinkedFileIsReplacedWhereItLies(t *testing.T) {
	dir, change := twoFiles(t)
	elsewhere := t.TempDir()
	require.NoError(t, os.Rename(filepath.Join(dir, "a"), filepath.Join(elsewhere, "a")))
	require.NoError(t, os.Symlink(filepath.Join(elsewhere, "a"), filepath.Join(dir, "a")))
	stagedJournal(t, dir, change)
	_, finished, err := Recover(dir)
	require.NoError(t, err)
	assert.True(t, finished)
	assert.Equal(t, "a2", text(t, elsewhere, "a"))
	assert.Equal(t, []string{"a"}, names(t, elsewhere))
	st, err := os.Lstat(filepath.Join(dir, "a"))
	require.NoError(t, err)
	assert.NotZero(t, st.Mode()&os.ModeSymlink)
	change[0].Old, change[0].New, change[1].Old, change[1].New, change[2].Old, change[2].New = []byte("a2"), []byte("a3"), []byte("b2"), []byte("b3"), []byte("c2"), []byte("c3")
	require.NoError(t, ReplaceTogether(dir, "a change", change...))
	assert.Equal(t, "a3b3c3", all(t, dir))
}

// stagedJournal is the state right after the journal was written: everything staged, nothing replaced.
func stagedJournal(t *testing.T, dir string, change []Replacement) journal {
	t.Helper()
	j := journal{What: "a change"}
	for _, f := range change {
		s := replaceStep{To: f.Path, New: sumOf(f.New)}
		var err error
		s.Fresh, err = stage(dir, f.Path, 0o644, f.New)
		require.NoError(t, err)
		if f.Old != nil {
			s.Old = sumOf(f.Old)
			s.Former, err = stage(dir, f.Path, 0o644, f.Old)
			require.NoError(t, err)
		}
		j.Replace = append(j.Replace, s)
	}
	data, err := json.Marshal(j)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, JournalFile), data, 0o644))
	return j
}

func TestAnInterruptedChangeIsFinished(t *testing.T) {
	for done := range 4 {
		dir, change := twoFiles(t)
		j := stagedJournal(t, dir, change)
		for _, s := range j.Replace[:done] {
			require.NoError(t, swapIn(filepath.Join(dir, s.Fresh), filepath.Join(dir, s.To), s.Old))
		}
		assert.Equal(t, "a change", Interrupted(dir))
		what, finished, err := Recover(dir)
		require.NoError(t, err)
		assert.True(t, finished)
		assert.Equal(t, "a change", what)
		assert.Equal(t, "a2b2c2", all(t, dir), "%d of 3 files were replaced", done)
		assert.Equal(t, []string{"a", "b", "c"}, names(t, dir))
		assert.Empty(t, Interrupted(dir))
	}
}

func TestAnInterruptedChangeIsTakenBackWhereAFileWasSavedSince(t *testing.T) {
	for done := range 3 {
		dir, change := twoFiles(t)
		j := stagedJournal(t, dir, change)
		for _, s := range j.Replace[:done] {
			require.NoError(t, swapIn(filepath.Join(dir, s.Fresh), filepath.Join(dir, s.To), s.Old))
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "b"), []byte("theirs"), 0o644))
		_, finished, err := Recover(dir)
		require.NoError(t, err)
		assert.False(t, finished)
		assert.Equal(t, "a1theirsnone", all(t, dir), "%d of 3 files were replaced", done)
		assert.Equal(t, []string{"a", "b"}, names(t, dir))
	}
}

func TestWhatAnotherProgramSavedInTheMomentOfTheExchangeWins(t *testing.T) {
	dir, change := twoFiles(t)
	j := stagedJournal(t, dir, change)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a"), []byte("theirs"), 0o644))
	if exchange(filepath.Join(dir, j.Replace[0].Fresh), filepath.Join(dir, "a")) != nil {
		return // names cannot be exchanged here; the window is that of a rename
	}
	_, finished, err := Recover(dir)
	require.NoError(t, err)
	assert.False(t, finished)
	assert.Equal(t, "theirsb1none", all(t, dir))
}

func TestMovesAreDoneAsOne(t *testing.T) {
	moves := []Move{{From: "store-wal", To: "kept-wal"}, {From: "store-shm"}, {From: "store", To: "kept", Link: true}, {From: "fresh", To: "store"}}
	for done := range 5 {
		dir := t.TempDir()
		for _, name := range []string{"store", "store-wal", "store-shm", "fresh"} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(name), 0o644))
		}
		j := journal{What: "a restore", Moves: moves}
		require.NoError(t, j.write(dir))
		for _, m := range moves[:done] { // what was done before the power went
			part := journal{Moves: []Move{m}}
			require.NoError(t, part.move(dir))
		}
		what, _, err := Recover(dir)
		require.NoError(t, err)
		assert.Equal(t, "a restore", what)
		assert.Equal(t, []string{"kept", "kept-wal", "store"}, names(t, dir), "%d of 4 moves were done", done)
		assert.Equal(t, "fresh", text(t, dir, "store"))
		assert.Equal(t, "store", text(t, dir, "kept"))
	}
}

func TestAJournalCannotNameFilesElsewhere(t *testing.T) {
	dir := t.TempDir()
	outside := filepath.Join(dir, "outside")
	require.NoError(t, os.WriteFile(outside, []byte("x"), 0o644))
	in := filepath.Join(dir, "in")
	require.NoError(t, os.Mkdir(in, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(in, JournalFile), []byte(`{"Moves":[{"From":"../outside","To":"stolen"}]}`), 0o644))
	_, _, err := Recover(in)
	require.Error(t, err)
	assert.FileExists(t, outside)
}

// A spreadsheet that saves the file again and again, in place or by a rename, while lines are added: every added line and
// every save must be there at the end.
func TestLinesAddedWhileASpreadsheetSavesAreNotLost(t *testing.T) {
	for _, inPlace := range []bool{false, true} {
		dir := t.TempDir()
		path := filepath.Join(dir, "events.csv")
		require.NoError(t, os.WriteFile(path, []byte("head\n"), 0o644))
		stop := make(chan struct{})
		saves := 0
		var added atomic.Int64   // our lines so far
		unseen := map[int]bool{} // those that came between the other program's last look and its write
		var wait sync.WaitGroup
		wait.Add(1)
		go func() {
			defer wait.Done()
			for {
				select {
				case <-stop:
					return
				default:
				}
				// A person has the file open, reads what is there and saves it with a line more, as long as it is what was
				// read: what the other program added is theirs to load first.
				data, err := os.ReadFile(path)
				if err != nil || len(data) == 0 {
					continue
				}
				next := append(data, fmt.Sprintf("theirs %d\n", saves)...)
				before := added.Load()
				if now, err := os.ReadFile(path); err != nil || string(now) != string(data) {
					continue
				}
				if inPlace {
					require.NoError(t, os.WriteFile(path, next, 0o644))
				} else {
					tmp := filepath.Join(dir, "lock.tmp")
					require.NoError(t, os.WriteFile(tmp, next, 0o644))
					before = added.Load()
					if now, err := os.ReadFile(path); err != nil || string(now) != string(data) {
						continue
					}
					require.NoError(t, os.Rename(tmp, path))
				}
				for i := before; i <= added.Load(); i++ { // the last one may be under way
					unseen[int(i)] = true
				}
				saves++
				time.Sleep(3 * time.Millisecond)
			}
		}()
		const lines = 60
		for i := range lines {
			require.NoError(t, AppendLine(path, "head", fmt.Sprintf("ours %d", i)))
			added.Add(1)
		}
		close(stop)
		wait.Wait()
		got := text(t, dir, "events.csv")
		lost := func(who string, n int, expected map[int]bool) (lost int) {
			for i := range n {
				if !strings.Contains(got, fmt.Sprintf("%s %d\n", who, i)) && !expected[i] {
					lost++
				}
			}
			return lost
		}
		ours, theirs := lost("ours", lines, unseen), lost("theirs", saves, nil)
		t.Logf("in place %v: %d lines added, %d lost without a reason; %d saves, %d lost", inPlace, lines, ours, saves, theirs)
		// Between the other program's last look and its own write lie some microseconds, more on a busy machine, in which it
		// overwrites what it has not seen, whatever is done here.
		assert.LessOrEqual(t, ours, 2, "in place %v", inPlace)
		assert.LessOrEqual(t, theirs, 2, "in place %v", inPlace)
	}
}
