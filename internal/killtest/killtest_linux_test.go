//go:build amd64

package killtest

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// folderEnv makes the test program change files of the folder that it names, in every way that Go knows, and change nothing.
const folderEnv = "PHOTOTRACK_TEST_CHANGES"

func TestMain(m *testing.M) {
	if dir := os.Getenv(folderEnv); dir != "" {
		changes(dir)
		os.Exit(7)
	}
	os.Exit(m.Run())
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}

func changes(dir string) {
	at := func(name string) string { return filepath.Join(dir, name) }
	must(os.Mkdir(at("sub"), 0o755))
	must(os.WriteFile(at("a"), []byte("one"), 0o644))
	f, err := os.OpenFile(at("a"), os.O_RDWR, 0)
	must(err)
	_, err = f.WriteAt([]byte("O"), 0)
	must(err)
	must(f.Sync())
	must(f.Truncate(2))
	must(f.Chmod(0o600))
	_, err = os.ReadFile(at("a")) // a look
	must(err)
	_, err = os.Stat(at("b"))
	if err == nil {
		panic("b is there")
	}
	to, err := os.Create(at("b"))
	must(err)
	_, err = io.Copy(to, f)
	must(err)
	must(to.Close())
	must(os.Chtimes(at("b"), time.Time{}, time.Unix(1, 0)))
	must(os.Link(at("b"), at("c")))
	must(os.Symlink("b", at("d")))
	must(os.Rename(at("c"), at("e")))
	must(os.Remove(at("e")))
	must(syscall.Fallocate(int(f.Fd()), 0, 0, 10))
	other, err := os.CreateTemp("", "elsewhere")
	must(err)
	_, err = other.WriteString("counts for nothing: not in the folder")
	must(err)
	must(os.Remove(other.Name()))
}

// expected are the system calls of changes. Those without a descriptor count wherever they lead: the last two are of the file
// elsewhere, whose write does not count.
var expected = []string{"mkdirat", "openat", "write", "pwrite64", "fsync", "ftruncate", "fchmod", "openat", "copy_file_range", "copy_file_range", "utimensat",
	"linkat", "symlinkat", "renameat", "unlinkat", "fallocate", "openat", "unlinkat"}

func command(dir string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), folderEnv+"="+dir)
	return cmd
}

func TestEveryKindOfChangeIsAPlace(t *testing.T) {
	dir := t.TempDir()
	calls, killed, err := Run(command(dir), dir, 0)
	require.NoError(t, err)
	assert.False(t, killed)
	assert.Equal(t, expected, calls)
}

// The program ends before the change, not after it, and nothing of what came before is missing.
func TestItEndsDirectlyBeforeTheChange(t *testing.T) {
	for n, want := range map[int]func(dir string){
		1: func(dir string) { assert.NoDirExists(t, filepath.Join(dir, "sub")) },
		3: func(dir string) {
			data, err := os.ReadFile(filepath.Join(dir, "a"))
			require.NoError(t, err)
			assert.Empty(t, data)
		},
		14: func(dir string) {
			assert.FileExists(t, filepath.Join(dir, "c"))
			assert.NoFileExists(t, filepath.Join(dir, "e"))
		},
	} {
		dir := t.TempDir()
		calls, killed, err := Run(command(dir), dir, n)
		require.NoError(t, err)
		assert.True(t, killed)
		assert.Equal(t, expected[:n], calls)
		want(dir)
	}
}

func TestAnotherMayComeInBetween(t *testing.T) {
	dir := t.TempDir()
	seen := ""
	calls, met, exit, err := Meanwhile(command(dir), dir, 3, func() {
		data, err := os.ReadFile(filepath.Join(dir, "a"))
		require.NoError(t, err)
		seen = "empty" + string(data)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "theirs"), nil, 0o644))
	})
	require.NoError(t, err)
	assert.True(t, met)
	assert.Equal(t, 7, exit, "it went on to its end")
	assert.Equal(t, "empty", seen)
	assert.Equal(t, expected, calls)
	assert.FileExists(t, filepath.Join(dir, "theirs"))
}
