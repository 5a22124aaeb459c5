//go:build windows

package fsx

import (
	"os"
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

// A spreadsheet lets others read the file that it shows, and no more.
func TestAFileThatASpreadsheetHoldsIsLeftAndSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plants.csv")
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
	path := filepath.Join(t.TempDir(), "plants.csv")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o644))
	h := hold(t, path, windows.FILE_SHARE_READ)
	time.AfterFunc(300*time.Millisecond, func() { windows.CloseHandle(h) })
	require.NoError(t, WriteFileAtomic(path, []byte("new"), 0o644))
	data, _ := os.ReadFile(path)
	assert.Equal(t, "new", string(data))
}

func TestLongPathsAndOddNames(t *testing.T) {
	dir := filepath.Join(t.TempDir(), strings.Repeat("Gewächshaus Süd ", 8)+"x", strings.Repeat("Bänke ", 20)+"x")
	require.Greater(t, len(dir), 260)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	path := filepath.Join(dir, "plants.csv")
	require.NoError(t, WriteFileAtomic(path, []byte("one"), 0o644))
	require.NoError(t, WriteFileAtomic(path, []byte("two"), 0o644))
	require.NoError(t, AppendLine(path, "h", "three"))
	require.ErrorIs(t, MoveNew(path, path), os.ErrExist)
	l, err := AcquireLock(filepath.Join(dir, "phototrack.lock"))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	data, _ := os.ReadFile(path)
	assert.Equal(t, "two\nthree\n", strings.ReplaceAll(string(data), "\r\n", "\n"))
}

func TestNamesThatWindowsForbidsAreSaid(t *testing.T) {
	err := WriteFileAtomic(filepath.Join(t.TempDir(), `no|such?name.csv`), []byte("x"), 0o644)
	require.Error(t, err)
}

func TestLongPathsAreWrittenForTheSystem(t *testing.T) {
	long := strings.Repeat(`folder\`, 40)
	assert.Equal(t, `C:\a`, longPath(`C:\a`))
	assert.Equal(t, `\\?\C:\`+long+`a`, longPath(`C:\`+long+`a`))
	assert.Equal(t, `\\?\UNC\server\share\`+long+`a`, longPath(`\\server\share\`+long+`a`))
	assert.Equal(t, `\\?\C:\`+long+`a`, longPath(`\\?\C:\`+long+`a`))
}
