package fsx

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// holderEnv makes the test program hold a lock until it is killed.
const holderEnv = "PHOTOTRACK_TEST_LOCK"

func TestMain(m *testing.M) {
	if path := os.Getenv(holderEnv); path != "" {
		if _, err := AcquireLock(path); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		fmt.Println("held")
		time.Sleep(time.Minute)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteAtomicKeepsTheOldFileOnAFault(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "plants.csv")
	require.NoError(t, WriteFileAtomic(path, []byte("old"), 0o640))
	err := WriteAtomic(path, 0o644, func(w io.Writer) error {
		w.Write([]byte("half of the n"))
		return &os.PathError{Op: "write", Path: path, Err: syscall.ENOSPC}
	})
	require.ErrorIs(t, err, syscall.ENOSPC)
	assert.Contains(t, err.Error(), "disk is full")
	assert.Contains(t, HintOf(err), "space")
	data, _ := os.ReadFile(path)
	assert.Equal(t, "old", string(data))
	assert.Equal(t, []string{"plants.csv"}, names(t, dir), "no unfinished file is left")

	require.NoError(t, WriteFileAtomic(path, []byte("new"), 0o600))
	st, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), st.Mode().Perm(), "permissions stay")

	link := filepath.Join(dir, "link.csv")
	require.NoError(t, os.Symlink("plants.csv", link))
	require.NoError(t, WriteFileAtomic(link, []byte("through"), 0o644))
	st, err = os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, st.Mode()&os.ModeSymlink, "a link stays a link")
	data, _ = os.ReadFile(path)
	assert.Equal(t, "through", string(data))
}

func TestAFullFileSystem(t *testing.T) {
	f, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if runtime.GOOS != "linux" {
		t.Skip("only Linux has /dev/full")
	}
	require.NoError(t, err)
	defer f.Close()
	_, err = f.Write([]byte("x"))
	assert.Contains(t, Explain("/collection/plants.csv", err).Error(), "disk is full")
}

func TestNothingIsOverwrittenByNew(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	put := func(text string) error {
		return PlaceNew(path, 0o644, func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
	}
	require.NoError(t, put("one"))
	require.ErrorIs(t, put("two"), os.ErrExist)
	other := filepath.Join(dir, "b")
	require.NoError(t, os.WriteFile(other, []byte("three"), 0o644))
	require.ErrorIs(t, MoveNew(other, path), os.ErrExist)
	require.NoError(t, MoveNew(other, filepath.Join(dir, "c")))
	data, _ := os.ReadFile(path)
	assert.Equal(t, "one", string(data))
	assert.Equal(t, []string{"a", "c"}, names(t, dir))
}

func TestAppendLine(t *testing.T) {
	for _, tt := range []struct{ name, old, want string }{
		{"plain", "h\na\n", "h\na\nx\n"},
		{"no last line end", "h\na", "h\na\nx\n"},
		{"CRLF", "h\r\na", "h\r\na\r\nx\r\n"},
		{"empty", "", "head\nx\n"},
		{"only a byte order mark", "\ufeff", "\ufeffhead\nx\n"},
	} {
		path := filepath.Join(t.TempDir(), "f.csv")
		require.NoError(t, os.WriteFile(path, []byte(tt.old), 0o644))
		require.NoError(t, AppendLine(path, "head", "x"))
		data, _ := os.ReadFile(path)
		assert.Equal(t, tt.want, string(data), tt.name)
	}
	path := filepath.Join(t.TempDir(), "none.csv")
	require.NoError(t, AppendLine(path, "head", "x", "y"))
	data, _ := os.ReadFile(path)
	assert.Equal(t, "head\nx\ny\n", string(data))
}

func TestExplainTellsWhatToDo(t *testing.T) {
	assert.NoError(t, Explain("x", nil))
	for _, cause := range []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EROFS, syscall.EACCES, syscall.ESTALE, syscall.EIO, syscall.ENOENT} {
		err := Explain("/bench/plants.csv", &os.PathError{Op: "open", Path: "/bench/plants.csv", Err: cause})
		assert.ErrorIs(t, err, cause)
		assert.NotEmpty(t, HintOf(err), cause)
		assert.Equal(t, err, Explain("other", err), "what has its advice is not wrapped again")
	}
	plain := errors.New("something else")
	assert.Equal(t, plain, Explain("x", plain))
	assert.Empty(t, HintOf(plain))
}

func TestASecondWriterIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.lock")
	l, err := AcquireLock(path)
	require.NoError(t, err)
	_, err = AcquireLock(path)
	require.ErrorIs(t, err, ErrLocked)
	var held *LockedError
	require.ErrorAs(t, err, &held)
	assert.Equal(t, os.Getpid(), held.PID)
	assert.WithinDuration(t, time.Now(), held.Since, 5*time.Second)
	assert.Contains(t, err.Error(), fmt.Sprintf("process %d, since ", os.Getpid()))
	assert.NotEmpty(t, HintOf(err))
	require.NoError(t, l.Close())
	require.NoError(t, l.Close(), "twice does no harm")
	l, err = AcquireLock(path)
	require.NoError(t, err)
	require.NoError(t, l.Close())
}

func TestTheLockOfAKilledWriterIsFree(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.lock")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), holderEnv+"="+path)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "held\n", line)

	_, err = AcquireLock(path)
	var held *LockedError
	require.ErrorAs(t, err, &held)
	assert.Equal(t, cmd.Process.Pid, held.PID)

	require.NoError(t, cmd.Process.Kill()) // kill -9: the holder has no chance to clean up
	cmd.Wait()
	l, err := AcquireLock(path)
	require.NoError(t, err)
	require.NoError(t, l.Close())
}

func TestOnlyOurUnfinishedFilesAreTemp(t *testing.T) {
	assert.True(t, IsTemp(".phototrack-123.tmp"))
	assert.False(t, IsTemp("letter.tmp"))
	assert.False(t, IsTemp(".phototrack-notes.txt"))
}

func TestReplaceSameLeavesWhatItDoesNotKnow(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "events.csv")
	require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o640))
	require.ErrorIs(t, ReplaceSame(path, []byte("ours"), []byte("new")), ErrNotSame)
	data, _ := os.ReadFile(path)
	assert.Equal(t, "theirs", string(data))
	require.NoError(t, ReplaceSame(path, []byte("theirs"), []byte("new")))
	data, _ = os.ReadFile(path)
	assert.Equal(t, "new", string(data))
	st, _ := os.Stat(path)
	assert.Equal(t, os.FileMode(0o640), st.Mode().Perm())
	assert.Equal(t, []string{"events.csv"}, names(t, dir), "no unfinished file is left")
	require.ErrorIs(t, ReplaceSame(filepath.Join(dir, "none"), nil, []byte("x")), os.ErrNotExist)
}
