package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/series"
)

// torture says that the long tests are wanted (make torture); the ordinary ones are a sample of them.
var torture = os.Getenv("PHOTOTRACK_TORTURE") != ""

// A folder of damaged and hostile files: the run ends, every file has an outcome with a reason that is in the table of
// gates, no worker dies, and memory stays bounded.
func TestFaultCorpus(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	names := map[string]string{} // by content hash
	want := 0
	corpus := faultCorpus(t, torture)
	all := make([]string, 0, len(corpus))
	for name := range corpus {
		all = append(all, name)
	}
	slices.Sort(all)
	for i, name := range all {
		if !torture && i%6 != 0 && !strings.HasPrefix(name, "exif") {
			continue
		}
		sum := sha256.Sum256(corpus[name])
		if key := hex.EncodeToString(sum[:]); names[key] == "" {
			names[key] = name
			want++
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "inbox", name), corpus[name], 0o644))
	}
	t.Logf("%d files of %d, %d of them different", len(names), len(corpus), want)
	if torture {
		require.GreaterOrEqual(t, len(names), 300)
	}
	peak := watchWorkers(t)
	start := time.Now()
	code, out, errs := program(t, "run", "--no-report", "--date", "2026-05-14", "--collection", dir)
	require.Equal(t, 1, code, out+errs)
	assert.NotContains(t, out+errs, "\x1b", "control characters of a file name reach the terminal")
	t.Logf("%s; largest worker %d MB", time.Since(start).Round(time.Millisecond), peak()>>20)

	count := map[string]int{}
	for _, p := range storedPhotos(t, dir) {
		name, ok := names[p.SHA256]
		require.True(t, ok, "%s was not in the folder", p.Name)
		delete(names, p.SHA256)
		codes := gate.Codes(p.Reasons)
		count[string(p.Status)+" "+codes]++
		if p.Status != record.Accepted {
			assert.NotEmpty(t, p.Reasons, name)
		}
		for _, r := range p.Reasons {
			_, known := gate.Lookup(r.Code)
			assert.True(t, known, "%s: %s", name, r.Code)
			assert.NotContains(t, []record.GateCode{gate.Crashed, gate.Timeout, gate.Memory}, r.Code, "%s: %s", name, r.Detail)
		}
	}
	assert.Empty(t, names, "files without an outcome")
	for k, n := range count {
		t.Logf("%4d %s", n, k)
	}
	bound := int64(1000 << 20) // a header may claim the 200 megapixels that are allowed
	if torture {
		bound = 4000 << 20 // a valid photo of 200 megapixels is among them
	}
	assert.Less(t, peak(), bound, "bytes of the largest worker")
	assert.Empty(t, strays(t))
}

func storedPhotos(t testing.TB, dir string) []record.Photo {
	t.Helper()
	st, err := series.OpenReader(filepath.Join(dir, "phototrack.db"))
	require.NoError(t, err)
	defer st.Close()
	photos, err := st.All(context.Background())
	require.NoError(t, err)
	return photos
}

// watchWorkers follows the memory of this test's worker processes; the function that it gives tells the peak so far.
func watchWorkers(t testing.TB) func() int64 {
	var lock sync.Mutex
	var peak int64
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	go func() {
		for ctx.Err() == nil {
			for _, pid := range workers() {
				if kB := peakKB(pid); kB > 0 {
					lock.Lock()
					peak = max(peak, kB<<10)
					lock.Unlock()
				}
			}
			time.Sleep(20 * time.Millisecond)
		}
	}()
	return func() int64 { lock.Lock(); defer lock.Unlock(); return peak }
}

// peakKB is the most memory that a process has held so far.
func peakKB(pid int) int64 {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(data), "VmHWM:")
	f := strings.Fields(rest)
	if len(f) == 0 {
		return 0
	}
	kB, _ := strconv.ParseInt(f[0], 10, 64)
	return kB
}

// workers are the process ids of this test's workers.
func workers() (out []int) {
	all, _ := filepath.Glob("/proc/[0-9]*/cmdline")
	for _, f := range all {
		data, err := os.ReadFile(f)
		if err == nil && strings.HasPrefix(string(data), bin+"\x00worker") {
			pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(f)))
			out = append(out, pid)
		}
	}
	return
}

// smallPhotos is a folder of n photos at half size, made from the samples.
func smallPhotos(t testing.TB, n int) string { return mixedPhotos(t, n, 1) }

// mixedPhotos are n photos of which every so many-th is at half size. The others are at a quarter of the size, at which a photo is
// rejected soon; it is stored like any other.
func mixedPhotos(t testing.TB, n, every int) string {
	t.Helper()
	dir := t.TempDir()
	all, err := filepath.Glob("../../samples/photos/*.jpg")
	require.NoError(t, err)
	for i := range n {
		src := all[i%len(all)]
		name := fmt.Sprintf("%d_%s", i/len(all), filepath.Base(src))
		times := 2
		if i%every != 0 {
			times = 4
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), smaller(t, src, times, i), 0o644))
	}
	return dir
}

// exported is all exported tables as one text.
func exported(t testing.TB, dir string) string {
	t.Helper()
	out := t.TempDir()
	code, _, errs := inProcess("export", "--out", out, "--collection", dir)
	require.Zero(t, code, errs)
	return tablesIn(t, out)
}

// tablesIn is all tables in a folder of exports as one text.
func tablesIn(t testing.TB, out string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(out, "*.csv"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 6)
	var b strings.Builder
	for _, f := range files {
		data, err := os.ReadFile(f)
		require.NoError(t, err)
		fmt.Fprintf(&b, "== %s\n%s", filepath.Base(f), data)
	}
	return b.String()
}

// Killed without warning at any moment, parent or worker, a plain run of the same command brings everything to where an
// undisturbed run would have brought it, to the byte of every export.
func TestKilledAtRandomMoments(t *testing.T) {
	reftest.Slow(t)
	trials, photos, every := 10, 8, 1
	if torture {
		trials, photos, every = 200, 60, 5
	}
	folder := mixedPhotos(t, photos, every)
	whole := samples(t, func(string) bool { return false })
	start := time.Now()
	code, out, errs := program(t, "run", folder, "--no-report", "--collection", whole)
	require.LessOrEqual(t, code, 1, out+errs)
	took := time.Since(start)
	want := exported(t, whole)
	require.Len(t, storedPhotos(t, whole), photos)
	require.Greater(t, strings.Count(want, "\n"), photos+10*(photos/every), "a line a photo, and the values of those that are measured")
	t.Logf("%d photos, undisturbed in %s", photos, took.Round(time.Millisecond))

	rng := rand.New(rand.NewPCG(7, 2026))
	parents, kids, early := 0, 0, 0
	found := map[string]int{}
	for i := range trials {
		dir := samples(t, func(string) bool { return false })
		cmd := exec.Command(bin, "run", folder, "--no-report", "--collection", dir)
		require.NoError(t, cmd.Start())
		time.Sleep(time.Duration(rng.Float64() * float64(took)))
		if i%2 == 0 {
			if cmd.Process.Kill() == nil {
				parents++
			}
		} else if pids := workersOf(cmd.Process.Pid); len(pids) > 0 {
			// One worker, or all of them again and again until a photo is given up.
			for range []int{1, 1, 1, 20}[rng.IntN(4)] {
				for _, pid := range pids {
					syscall.Kill(pid, syscall.SIGKILL)
				}
				time.Sleep(20 * time.Millisecond)
				pids = workersOf(cmd.Process.Pid)
			}
			kids++
		} else {
			early++
		}
		cmd.Wait()
		found[share(dir, photos)]++
		code, out, errs := program(t, "run", folder, "--no-report", "--collection", dir)
		require.LessOrEqual(t, code, 1, "trial %d: %s%s", i, out, errs)
		got := exported(t, dir)
		require.True(t, want == got, "trial %d: the exports differ, first at: %s", i, firstDifference(want, got))
		require.Empty(t, strays(t), "trial %d", i)
		require.NoError(t, os.RemoveAll(dir))
		if torture && i%20 == 19 {
			t.Logf("%d trials so far: %d kills of the parent, %d of workers", i+1, parents, kids)
		}
	}
	t.Logf("%d kills of the parent, %d of workers, %d before there was a worker or after the end; found in the store: %v", parents, kids, early, found)
}

// share says how many of so many photos a store holds, "nothing" where there is none yet.
func share(dir string, photos int) string {
	st, err := series.OpenReader(filepath.Join(dir, "phototrack.db"))
	if err != nil {
		return "nothing"
	}
	defer st.Close()
	switch n, _ := st.Count(context.Background()); n {
	case 0:
		return "nothing"
	case photos:
		return "all"
	}
	return "a part"
}

// firstDifference is the first line in which two texts differ.
func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range x {
		if i >= len(y) || x[i] != y[i] {
			return fmt.Sprintf("%q, not %q", y[min(i, len(y)-1)], x[i])
		}
	}
	return "the end"
}

// workersOf are the worker processes that a run has started.
func workersOf(parent int) (out []int) {
	for _, pid := range workers() {
		data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
		if err != nil {
			continue
		}
		f := strings.Fields(string(data[strings.LastIndexByte(string(data), ')')+1:]))
		if len(f) > 1 && f[1] == strconv.Itoa(parent) {
			out = append(out, pid)
		}
	}
	return
}

// Two runs at once: the second is told who is at work and does nothing; what the first does is not disturbed.
func TestTwoRunsAtOnce(t *testing.T) {
	folder := smallPhotos(t, 8)
	dir := samples(t, func(string) bool { return false })
	first := exec.Command(bin, "run", folder, "--no-report", "--collection", dir)
	require.NoError(t, first.Start())
	require.Eventually(t, func() bool { return len(workersOf(first.Process.Pid)) > 0 }, 10*time.Second, 5*time.Millisecond)
	code, _, errs := program(t, "run", folder, "--no-report", "--collection", dir)
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, fmt.Sprintf("process %d", first.Process.Pid))
	assert.Contains(t, errs, "hint:")
	first.Wait()
	assert.LessOrEqual(t, first.ProcessState.ExitCode(), 1)
	assert.Len(t, storedPhotos(t, dir), 8)
}

// A disk that fills up in the middle of a run: it says so, nothing that was stored is lost, and with room again the same
// command comes to the same exports.
func TestFullDisk(t *testing.T) {
	folder := smallPhotos(t, 12)
	whole := samples(t, func(string) bool { return false })
	program(t, "run", folder, "--no-report", "--collection", whole)
	want := exported(t, whole)
	disk := t.TempDir()
	sizes := []int{1100}
	if torture {
		sizes = []int{500, 700, 900, 1100, 1400, 1700, 2000}
	}
	for _, kB := range sizes {
		err := syscall.Mount("none", disk, "tmpfs", 0, fmt.Sprintf("size=%dk", kB))
		if errors.Is(err, syscall.EPERM) {
			t.Skip("only root may mount a small disk; package series tests a full store without one")
		}
		require.NoError(t, err)
		dir := filepath.Join(disk, "bench")
		code, _, errs := program(t, "init", dir)
		require.Zero(t, code, errs)
		for _, f := range []string{"plants", "events", "watch", "cards"} {
			copyFile(t, "../../samples/"+f+".csv", filepath.Join(dir, f+".csv"))
		}
		code, out, errs := program(t, "run", folder, "--no-report", "--collection", dir)
		assert.Equal(t, 2, code, "%d kB: %s", kB, out)
		assert.Contains(t, errs, "hint:", "%d kB", kB)
		assert.Contains(t, errs, "full", "%d kB: %s", kB, errs)
		require.NoError(t, syscall.Mount("none", disk, "tmpfs", syscall.MS_REMOUNT, "size=200m"))
		code, out, errs = program(t, "run", folder, "--no-report", "--collection", dir)
		assert.LessOrEqual(t, code, 1, out+errs)
		assert.True(t, want == exported(t, dir), "%d kB: the exports differ", kB)
		require.NoError(t, syscall.Unmount(disk, 0))
	}
}
