package series

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/fsx"
)

// smallDisk mounts a real file system of a few MB, where the test may do so.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=4m"); err != nil {
		t.Skipf("a small disk cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	return dir
}

func TestARealDiskThatFillsUp(t *testing.T) {
	dir := smallDisk(t)
	path := filepath.Join(dir, "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	stored := 0
	for ; stored < 100; stored++ {
		p := benchPhoto(stored)
		p.Pictures["plain"] = make([]byte, 200_000)
		if err = s.Put(ctx, p); err != nil {
			break
		}
	}
	require.ErrorIs(t, err, ErrDiskFull)
	require.Greater(t, stored, 3)
	require.ErrorIs(t, fsx.WriteFileAtomic(filepath.Join(dir, "events.csv"), make([]byte, 3<<20), 0o644), syscall.ENOSPC)
	require.ErrorIs(t, s.Backup(ctx, filepath.Join(dir, "copy")), ErrDiskFull)
	require.NoError(t, s.Close())

	r, err := OpenReader(path)
	require.NoError(t, err)
	all, err := r.All(ctx)
	require.NoError(t, err)
	assert.Len(t, all, stored, "what was acknowledged is there, what was not is not")
	faults, err := r.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, faults)
	require.NoError(t, r.Close())
	left, err := filepath.Glob(filepath.Join(dir, ".phototrack-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestADiskThatCanOnlyBeRead(t *testing.T) {
	dir := smallDisk(t)
	path := filepath.Join(dir, "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	require.NoError(t, s.Close())
	require.NoError(t, os.WriteFile(filepath.Join(dir, "phototrack.lock"), nil, 0o644))
	require.NoError(t, syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))

	_, err = Open(path)
	require.ErrorIs(t, err, ErrReadOnly)
	assert.NotEmpty(t, fsx.HintOf(err))
	_, err = fsx.AcquireLock(filepath.Join(dir, "phototrack.lock"))
	require.ErrorIs(t, err, syscall.EROFS)
	assert.NotEmpty(t, fsx.HintOf(err))
	r, err := OpenReader(path)
	require.NoError(t, err, "reports and exports can still be made")
	defer r.Close()
	all, err := r.All(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 1)
}
