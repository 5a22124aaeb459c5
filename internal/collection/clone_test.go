//go:build linux

package collection

import (
	"crypto/rand"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"phototrack/internal/record"
)

// What a clone holds is read back from the copy, and a file system that makes no clones gets a copy. The cloners here do what
// ioctl_ficlone(2) says of FICLONE: the content is there in one step, and neither file's position moves.
func TestAClonedOriginalIsChecked(t *testing.T) {
	content := randomBytes(t, 300_000)
	clone := func(change func([]byte)) cloner {
		return func(dst, src *os.File) error {
			st, err := dst.Stat()
			require.NoError(t, err)
			assert.Zero(t, st.Size(), "into an empty file")
			data, err := io.ReadAll(io.NewSectionReader(src, 0, int64(len(content))))
			require.NoError(t, err)
			change(data)
			_, err = dst.WriteAt(data, 0)
			return err
		}
	}
	for _, tt := range []struct {
		name  string
		clone cloner
		kept  bool
	}{
		{"a clone", clone(func([]byte) {}), true},
		{"a clone of what another program has saved meanwhile", clone(func(b []byte) { b[200_000]++ }), false},
		{"no clones here", func(_, _ *os.File) error { return syscall.EOPNOTSUPP }, true},
		{"another disk", func(_, _ *os.File) error { return syscall.EXDEV }, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			src, dst := filepath.Join(t.TempDir(), "src.jpg"), filepath.Join(t.TempDir(), "dst.jpg")
			require.NoError(t, os.WriteFile(src, content, 0o644))
			err := copyChecked(src, dst, Hash(content), tt.clone)
			if tt.kept {
				require.NoError(t, err)
				got, err := os.ReadFile(dst)
				require.NoError(t, err)
				assert.Equal(t, Hash(content), Hash(got))
				return
			}
			require.ErrorIs(t, err, ErrChanged)
			left, err := os.ReadDir(filepath.Dir(dst))
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}

// onDiskEnv names the folder on a disk of its own for the process that keeps an original there; clonesEnv says that it can clone.
const (
	diskEnv   = "PHOTOTRACK_TEST_DISK"
	clonesEnv = "PHOTOTRACK_TEST_CLONES"
)

// Kept originals on a file system that makes clones (Btrfs) take no space and are files of their own all the same. The file system
// is a picture of a disk that a child process mounts where only it sees it, which needs root; elsewhere the original is kept on
// the disk of the temporary folder, whatever that can do.
func TestOriginalsShareTheirBlocksWhereTheDiskCan(t *testing.T) {
	if dir := os.Getenv(diskEnv); dir != "" {
		if image := os.Getenv(clonesEnv); image != "" {
			if out, err := exec.Command("mount", "-t", "btrfs", "-o", "loop", image, dir).CombinedOutput(); err != nil {
				t.Logf("cannot mount: %v: %s", err, out)
				os.Exit(cannotMount)
			}
			defer exec.Command("umount", dir).Run()
		}
		keepOnDisk(t, dir, os.Getenv(clonesEnv) != "")
		return
	}
	image := filepath.Join(t.TempDir(), "disk.img")
	unpackDisk(t, image)
	child := func(image string) (string, error) {
		cmd := exec.Command(os.Args[0], "-test.run", "^"+t.Name()+"$", "-test.v")
		cmd.Env = append(os.Environ(), diskEnv+"="+t.TempDir(), clonesEnv+"="+image)
		if image != "" {
			cmd.SysProcAttr = &syscall.SysProcAttr{Unshareflags: syscall.CLONE_NEWNS}
		}
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := child(image)
	var exit *exec.ExitError
	if errors.Is(err, syscall.EPERM) || errors.As(err, &exit) && exit.ExitCode() == cannotMount {
		t.Log("nothing can be mounted here: ", out, err)
		out, err = child("")
	}
	require.NoError(t, err, out)
	t.Log(out)
}

const cannotMount = 9

// unpackDisk makes a picture of an empty disk of 16 MiB, made with mkfs.btrfs --mixed -m single -d single (btrfs-progs 6.2).
func unpackDisk(t *testing.T, image string) {
	t.Helper()
	packed, err := os.ReadFile(filepath.Join("testdata", "clones", "btrfs-16MiB.img.zst"))
	require.NoError(t, err)
	dec, err := zstd.NewReader(nil)
	require.NoError(t, err)
	defer dec.Close()
	data, err := dec.DecodeAll(packed, nil)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(image, data, 0o600))
}

// keepOnDisk keeps an original on a disk and looks at what it costs and whether an edit of the photo in place reaches it.
func keepOnDisk(t *testing.T, dir string, clones bool) {
	_, err := Init(filepath.Join(dir, "bench"))
	require.NoError(t, err)
	c, err := Open(filepath.Join(dir, "bench"))
	require.NoError(t, err)
	content := randomBytes(t, 4<<20)
	src := filepath.Join(dir, "IMG_1.jpg")
	require.NoError(t, os.WriteFile(src, content, 0o644))
	free := freeBytes(t, dir)
	rel, err := c.Archive(&record.Photo{Name: "IMG_1.jpg", SHA256: Hash(content)}, src)
	require.NoError(t, err)
	cost := free - freeBytes(t, dir)
	t.Logf("an original of %d bytes takes %d bytes", len(content), cost)
	if clones {
		assert.Less(t, cost, int64(len(content)/4))
	}
	f, err := os.OpenFile(src, os.O_RDWR, 0)
	require.NoError(t, err)
	_, err = f.WriteAt([]byte("edited in place"), 1<<20)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	sum, err := HashFile(c.Path(filepath.FromSlash(rel)))
	require.NoError(t, err)
	assert.Equal(t, Hash(content), sum)
}

// freeBytes is the space on a disk once all is written to it.
func freeBytes(t *testing.T, dir string) int64 {
	t.Helper()
	d, err := os.Open(dir)
	require.NoError(t, err)
	defer d.Close()
	require.NoError(t, unix.Syncfs(int(d.Fd())))
	var st syscall.Statfs_t
	require.NoError(t, syscall.Statfs(dir, &st))
	return int64(st.Bfree) * st.Bsize
}

func randomBytes(t *testing.T, n int) []byte {
	t.Helper()
	out := make([]byte, n)
	_, err := rand.Read(out)
	require.NoError(t, err)
	return out
}
