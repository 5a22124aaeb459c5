package pipeline

import (
	"bufio"
	"context"
	"encoding/gob"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// The test program is its own worker: started with one of these words it plays a part instead of running tests.
const (
	partWorker = "test-worker" // a worker that does what the photo's name says
	partMute   = "test-mute"   // a worker that ends before it has said anything
	partOld    = "test-old"    // a worker of another version
	partParent = "test-parent" // a supervisor with two workers that hang
	partServe  = "test-serve"  // Serve itself, on the process's own streams

	partCollection = "test-collection" // the same for a collection, whose folder follows
)

func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case partWorker:
			playWorker(MeasuringVersion)
			return
		case partOld:
			playWorker("1999.1")
			return
		case partMute:
			return
		case partParent:
			pool := Pool{Command: []string{os.Args[0], partWorker}, Workers: 2, Limit: time.Hour}
			pool.Measure(context.Background(), []Job{{Name: "hang"}, {Name: "hang"}}, func(Outcome) error { return nil })
			return
		case partCollection:
			c, err := collection.Open(os.Args[2])
			if err != nil {
				panic(err)
			}
			Serve(os.Stdin, os.Stdout, c, func() { os.Exit(3) })
			return
		case partServe:
			Serve(os.Stdin, os.Stdout, nil, func() { os.Exit(3) })
			return
		}
	}
	os.Exit(m.Run())
}

func playWorker(version string) {
	w := bufio.NewWriter(os.Stdout)
	enc, dec := gob.NewEncoder(w), gob.NewDecoder(bufio.NewReader(os.Stdin))
	enc.Encode(greeting{Version: version})
	w.Flush()
	for {
		var job Job
		if dec.Decode(&job) != nil {
			return
		}
		switch job.Name {
		case "die":
			syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		case "die once":
			if _, err := os.Stat(job.Rel); err != nil {
				os.WriteFile(job.Rel, nil, 0o600)
				os.Exit(1)
			}
		case "hang":
			time.Sleep(time.Hour)
		case "spin":
			for {
				runtime.Gosched()
			}
		case "work": // most of what is allowed
			for t, _ := processorTime(os.Getpid()); ; {
				if now, _ := processorTime(os.Getpid()); now > t+workTime {
					break
				}
			}
		case "wait": // as a process on a machine that has much else to do
			time.Sleep(2 * shortLimit)
		case "hog":
			var held [][]byte
			for {
				b := make([]byte, 16<<20)
				for i := 0; i < len(b); i += 4096 { // a byte a page
					b[i] = 1
				}
				held = append(held, b)
				time.Sleep(5 * time.Millisecond)
				runtime.KeepAlive(held)
			}
		}
		enc.Encode(reply{Photo: record.Photo{Name: job.Name, SHA256: strconv.Itoa(os.Getpid()), Status: record.Accepted}})
		w.Flush()
	}
}

// never is a time that nothing in these tests takes, however busy the machine is: what takes as long would not end at all.
const never = 2 * time.Minute

const (
	shortLimit = 200 * time.Millisecond // of processor time
	workTime   = 125 * time.Millisecond
)

// testPool gives only a job that never ends little time: how long the others take depends on what else the machine does.
func testPool(workers int) Pool {
	return Pool{Command: []string{os.Args[0], partWorker}, Workers: workers, MaxRSS: 300 << 20, limitOf: func(job Job) time.Duration {
		switch job.Name {
		case "hang", "spin", "work", "wait":
			return shortLimit
		}
		return never
	}}
}

// The batch ends, every photo has its outcome, and only the photo that did it pays.
func TestWorkersThatFail(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "photo.jpg")
	require.NoError(t, os.WriteFile(file, []byte("bytes"), 0o600))
	var jobs []Job
	for i, name := range []string{"good", "die", "good", "hang", "good", "hog", "die once", "good", "spin", "good"} {
		jobs = append(jobs, Job{Name: name, Path: file, Rel: filepath.Join(dir, fmt.Sprint("mark", i))})
	}
	for _, workers := range []int{1, 3} {
		os.Remove(filepath.Join(dir, "mark6"))
		got := map[string][]string{}
		err := testPool(workers).Measure(context.Background(), jobs, func(o Outcome) error {
			require.NoError(t, o.Err)
			code := string(o.Photo.Status)
			for _, r := range o.Photo.Reasons {
				code = string(r.Code)
				assert.NotEmpty(t, r.Detail)
				assert.Len(t, o.Photo.SHA256, 64)
			}
			got[o.Job.Name] = append(got[o.Job.Name], code)
			return nil
		})
		require.NoError(t, err)
		assert.Equal(t, map[string][]string{"good": {"accepted", "accepted", "accepted", "accepted", "accepted"}, "die": {"crashed"},
			"hang": {"timeout"}, "spin": {"timeout"}, "hog": {"memory"}, "die once": {"accepted"}}, got)
		assert.Empty(t, children(t, os.Getpid()), "neither a worker nor a zombie is left")
	}
}

// A photo's limit is what its worker does, not what else the machine does meanwhile, and each photo has one of its own.
func TestTheLimitIsOfProcessorTime(t *testing.T) {
	var jobs []Job
	for _, name := range []string{"wait", "work", "work", "work", "work", "wait"} {
		jobs = append(jobs, Job{Name: name})
	}
	workers := map[string]bool{}
	err := testPool(1).Measure(context.Background(), jobs, func(o Outcome) error {
		require.NoError(t, o.Err)
		assert.Equal(t, record.Accepted, o.Photo.Status, "%s: %v", o.Job.Name, o.Photo.Reasons)
		workers[o.Photo.SHA256] = true
		return nil
	})
	require.NoError(t, err)
	assert.Len(t, workers, 1, "one process did all, and in all it worked for longer than one photo may")

	file := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(file, []byte("bytes"), 0o600))
	for name, want := range map[string]string{"spin": "over 200ms of processor time", "hang": "it waited for something, in all for 2s"} {
		require.NoError(t, testPool(1).Measure(context.Background(), []Job{{Name: name, Path: file}}, func(o Outcome) error {
			require.NoError(t, o.Err)
			assert.Equal(t, []record.Reason{{Code: gate.Timeout, Detail: want}}, o.Photo.Reasons)
			return nil
		}))
	}
}

// A worker that cannot start is no photo's fault: nothing may be stored as refused.
func TestWorkersThatDoNotStart(t *testing.T) {
	for name, command := range map[string][]string{"missing": {"/nonexistent/phototrack"}, "mute": {os.Args[0], partMute}, "another version": {os.Args[0], partOld}} {
		t.Run(name, func(t *testing.T) {
			p := Pool{Command: command, Workers: 1, Limit: time.Second}
			n := 0
			err := p.Measure(context.Background(), []Job{{Name: "a"}, {Name: "b"}}, func(o Outcome) error {
				n++
				assert.ErrorIs(t, o.Err, errNoWorker)
				return nil
			})
			require.NoError(t, err)
			assert.Equal(t, 2, n)
			assert.Empty(t, children(t, os.Getpid()))
		})
	}
}

func TestStoppedPoolLeavesNobody(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
	defer cancel()
	p := testPool(2)
	p.limitOf = func(Job) time.Duration { return time.Hour }
	start := time.Now()
	err := p.Measure(ctx, []Job{{Name: "hang"}, {Name: "hang"}, {Name: "hang"}}, func(Outcome) error { return nil })
	assert.ErrorIs(t, err, context.DeadlineExceeded)
	assert.Less(t, time.Since(start), never, "it does not wait for a worker that hangs for an hour")
	assert.Empty(t, children(t, os.Getpid()))
}

// Workers do not outlive a parent that was killed without a chance to say so, even while they are busy.
func TestNoOrphans(t *testing.T) {
	for i := range 3 {
		cmd := exec.Command(os.Args[0], partParent)
		require.NoError(t, cmd.Start())
		var kids []int
		require.Eventually(t, func() bool { kids = children(t, cmd.Process.Pid); return len(kids) == 2 }, never, 10*time.Millisecond)
		time.Sleep(time.Duration(i) * 50 * time.Millisecond)
		require.NoError(t, cmd.Process.Kill())
		cmd.Wait()
		assert.Eventually(t, func() bool {
			for _, k := range kids {
				if processState(k) != "" {
					return false
				}
			}
			return true
		}, never, 10*time.Millisecond, "workers %v", kids)
	}
}

// The second net, for systems that do not tell a child of its parent's death: a busy worker whose input ends leaves.
func TestBusyWorkerLeavesWhenItsInputEnds(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(pipe, bigPNG(), 0o600))
	cmd := exec.Command(os.Args[0], partServe)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var g greeting
	require.NoError(t, gob.NewDecoder(out).Decode(&g))
	idle, ok := processorTime(cmd.Process.Pid)
	require.True(t, ok)
	require.NoError(t, gob.NewEncoder(in).Encode(Job{Path: pipe, Name: "photo.jpg"}))
	// It works as soon as it takes processor time, whenever the machine gives it some; the photo needs a second of that.
	require.Eventually(t, func() bool {
		now, ok := processorTime(cmd.Process.Pid)
		return ok && now > idle+50*time.Millisecond
	}, never, time.Millisecond)
	require.NoError(t, in.Close())
	cmd.Wait()
	assert.Equal(t, 3, cmd.ProcessState.ExitCode(), "it left by itself, in the middle of its work")
}

// children are the child processes of pid, zombies included.
func children(t testing.TB, pid int) (out []int) {
	t.Helper()
	all, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, f := range all {
		data, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		s := string(data)
		fields := strings.Fields(s[strings.LastIndexByte(s, ')')+1:])
		if len(fields) > 1 && fields[1] == strconv.Itoa(pid) {
			id, _ := strconv.Atoi(filepath.Base(filepath.Dir(f)))
			out = append(out, id)
		}
	}
	return
}

// processState is the letter of a process's state, "" where it is gone or only waits to be buried by init.
func processState(pid int) string {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return ""
	}
	s := string(data)
	state := strings.Fields(s[strings.LastIndexByte(s, ')')+1:])[0]
	if state == "Z" || state == "X" {
		return ""
	}
	return state
}

func TestWorkersForMemory(t *testing.T) {
	for _, c := range []struct {
		name      string
		cores     int
		available int64
		want      int
	}{
		{"memory unknown", 4, 0, 4},
		{"plenty", 4, 16 << 30, 4},
		{"a small computer", 4, 1 << 30, 2},
		{"hardly any", 4, 100 << 20, 1},
		{"no processors told", 0, 1 << 40, 1},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, workersFor(c.cores, c.available)) })
	}
}

func TestRefusalsAreTriedAgainButNotForEver(t *testing.T) {
	p := refused(Job{Name: "a.jpg"}, strings.Repeat("0", 64), 1, gate.Crashed, "ended twice")
	for n := 1; n <= maxAttempts; n++ {
		assert.Equal(t, n, Attempts(&p))
		assert.Equal(t, n < maxAttempts, TryAgain(&p))
		p = refused(Job{Name: "a.jpg", Attempts: Attempts(&p)}, p.SHA256, 1, gate.Timeout, "over 60 s")
	}
	assert.False(t, TryAgain(&record.Photo{Reasons: []record.Reason{{Code: gate.NoCard}}}))
}
