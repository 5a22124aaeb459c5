//go:build windows

package fsx

import (
	"bufio"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/windows"
)

// hold opens a file as another program would, with what that lets others do meanwhile.
func hold(t *testing.T, path string, share uint32) windows.Handle {
	t.Helper()
	name, err := windows.UTF16PtrFromString(path)
	require.NoError(t, err)
	h, err := windows.CreateFile(name, windows.GENERIC_READ, share, nil, windows.OPEN_EXISTING, windows.FILE_ATTRIBUTE_NORMAL, 0)
	require.NoError(t, err)
	return h
}

// folder is a temporary folder that is emptied file by file: Wine 8 knows no other way of Go's to empty one.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "phototrack-test")
	require.NoError(t, err)
	t.Cleanup(func() {
		var paths []string
		filepath.WalkDir(dir, func(path string, _ os.DirEntry, _ error) error { paths = append(paths, path); return nil })
		for i := len(paths) - 1; i >= 0; i-- {
			os.Remove(paths[i])
		}
	})
	return dir
}

// A spreadsheet lets others read the file that it shows, and no more.
func TestAFileThatASpreadsheetHoldsIsLeftAndSaid(t *testing.T) {
	path := filepath.Join(folder(t), "plants.csv")
	require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o644))
	h := hold(t, path, windows.FILE_SHARE_READ)
	for _, write := range []func() error{
		func() error { return WriteFileAtomic(path, []byte("new"), 0o644) },
		func() error { return ReplaceSame(path, []byte("theirs"), []byte("new")) },
	} {
		err := write()
		require.Error(t, err)
		assert.Contains(t, err.Error(), "held open by another program")
		assert.Contains(t, HintOf(err), "spreadsheet")
		data, _ := os.ReadFile(path)
		assert.Equal(t, "theirs", string(data))
		assert.Equal(t, []string{"plants.csv"}, names(t, filepath.Dir(path)))
	}
	windows.CloseHandle(h)
	require.NoError(t, WriteFileAtomic(path, []byte("new"), 0o644))
}

func TestAVirusScannerIsWaitedFor(t *testing.T) {
	path := filepath.Join(folder(t), "plants.csv")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o644))
	h := hold(t, path, windows.FILE_SHARE_READ)
	time.AfterFunc(300*time.Millisecond, func() { windows.CloseHandle(h) })
	require.NoError(t, WriteFileAtomic(path, []byte("new"), 0o644))
	data, _ := os.ReadFile(path)
	assert.Equal(t, "new", string(data))
}

func TestLongPathsAndOddNames(t *testing.T) {
	dir := filepath.Join(folder(t), strings.Repeat("Gewächshaus Süd ", 8)+"x", strings.Repeat("Bänke ", 20)+"x")
	require.Greater(t, len(dir), 260)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	path := filepath.Join(dir, "plants.csv")
	require.NoError(t, WriteFileAtomic(path, []byte("one"), 0o644))
	require.NoError(t, WriteFileAtomic(path, []byte("two"), 0o644))
	require.NoError(t, AppendLine(path, "h", "three"))
	other := filepath.Join(dir, "other.csv")
	require.NoError(t, os.WriteFile(other, []byte("other"), 0o644))
	require.ErrorIs(t, MoveNew(other, path), os.ErrExist)
	require.NoError(t, MoveNew(other, filepath.Join(dir, "third.csv")))
	l, err := AcquireLock(filepath.Join(dir, "phototrack.lock"))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	data, _ := os.ReadFile(path)
	assert.Equal(t, "two\nthree\n", strings.ReplaceAll(string(data), "\r\n", "\n"))
}

func TestNamesThatWindowsForbidsAreSaid(t *testing.T) {
	err := WriteFileAtomic(filepath.Join(folder(t), `no|such?name.csv`), []byte("x"), 0o644)
	require.Error(t, err)
	assert.Contains(t, HintOf(err), "< > :")
}

func TestTheLockIsTheSystems(t *testing.T) {
	path := filepath.Join(folder(t), "phototrack.lock")
	l, err := AcquireLock(path)
	require.NoError(t, err)
	_, err = AcquireLock(path)
	var held *LockedError
	require.ErrorAs(t, err, &held)
	assert.Equal(t, os.Getpid(), held.PID, "what the holder wrote can be read while it holds the lock")
	require.NoError(t, l.Close())

	// The lock of a process that is killed is free.
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), holderEnv+"="+path)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "held\n", line)
	_, err = AcquireLock(path)
	require.ErrorIs(t, err, ErrLocked)
	require.NoError(t, cmd.Process.Kill())
	cmd.Wait()
	l, err = AcquireLock(path)
	require.NoError(t, err)
	require.NoError(t, l.Close())
}

// Lines are added while others keep opening the file for a moment, as scanners do.
func TestAScannerThatComesAgainAndAgain(t *testing.T) {
	path := filepath.Join(folder(t), "events.csv")
	require.NoError(t, os.WriteFile(path, []byte("h\n"), 0o644))
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for ctx.Err() == nil {
			if f, err := os.Open(path); err == nil {
				time.Sleep(time.Millisecond)
				f.Close()
			}
			time.Sleep(time.Millisecond)
		}
	}()
	for range 50 {
		require.NoError(t, AppendLine(path, "h", "x"))
	}
	stop()
	<-done
	data, _ := os.ReadFile(path)
	assert.Equal(t, "h\n"+strings.Repeat("x\n", 50), string(data))
}

func TestLongPathsAreWrittenForTheSystem(t *testing.T) {
	long := strings.Repeat(`folder\`, 40)
	assert.Equal(t, `C:\a`, longPath(`C:\a`))
	assert.Equal(t, `\\?\C:\`+long+`a`, longPath(`C:\`+long+`a`))
	assert.Equal(t, `\\?\UNC\server\share\`+long+`a`, longPath(`\\server\share\`+long+`a`))
	assert.Equal(t, `\\?\C:\`+long+`a`, longPath(`\\?\C:\`+long+`a`))
}
