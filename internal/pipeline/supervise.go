package pipeline

import (
	"bufio"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"
)

// greeting is the first thing a worker says. A process that does not get that far is no judge of any photo.
type greeting struct {
	Version string
}

// Why a worker was given up.
var (
	errSlow     = errors.New("took too long")
	errStuck    = fmt.Errorf("%w: it waits for something", errSlow)
	errMemory   = errors.New("took too much memory")
	errNoWorker = errors.New("the measuring process does not start")
)

// startLimit is how long a worker may take from its start to its greeting, on a machine that is busy or just woken.
const startLimit = 30 * time.Second

// clockTimes is how many times its limit of processor time a photo may take by the clock. On a machine that has much else to do
// sound photos took more than their minute and were refused; a worker that waits for something that never comes must end all
// the same.
const clockTimes = 10

// watchEvery is how often a worker's memory and processor time are looked at. A decoder can fill about a gigabyte in a second, so that a
// bound is overrun by a tenth of that.
const watchEvery = 100 * time.Millisecond

// worker is one worker process, started when it is first needed and replaced when it dies.
type worker struct {
	pool Pool
	cmd  *exec.Cmd
	in   io.WriteCloser
	enc  *gob.Encoder
	dec  *gob.Decoder
	bw   *bufio.Writer
	// release lets go of what ties the process to this one.
	release func()
}

func (w *worker) start(ctx context.Context) error {
	cmd := exec.Command(w.pool.Command[0], w.pool.Command[1:]...)
	cmd.Stderr = os.Stderr
	// One pool of memory for all of the process's threads (mallopt(3) of the GNU C library; others do not look at it): the goroutine that
	// measures wanders over threads, and what OpenCV let go in one thread's pool would lie there while the next one's grows.
	cmd.Env = append(os.Environ(), "MALLOC_ARENA_MAX=1")
	cmd.SysProcAttr = childAttributes()
	in, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	w.release = bind(cmd.Process, w.pool.MaxRSS)
	w.cmd, w.in, w.bw = cmd, in, bufio.NewWriter(in)
	w.enc, w.dec = gob.NewEncoder(w.bw), gob.NewDecoder(bufio.NewReaderSize(out, 1<<16))
	var g greeting
	if err := w.wait(ctx, bounds{clock: startLimit}, func() error { return w.dec.Decode(&g) }); err != nil {
		w.kill()
		return err
	}
	if g.Version != MeasuringVersion {
		w.kill()
		return fmt.Errorf("it is another version (%s, not %s)", g.Version, MeasuringVersion)
	}
	return nil
}

// stop ends the process: politely by ending its input, and by force where it does not leave.
func (w *worker) stop() {
	if w.cmd == nil {
		return
	}
	w.in.Close()
	gone := make(chan struct{})
	cmd := w.cmd
	go func() { cmd.Wait(); close(gone) }()
	select {
	case <-gone:
	case <-time.After(2 * time.Second):
		cmd.Process.Kill()
		<-gone
	}
	w.release()
	w.cmd = nil
}

func (w *worker) kill() {
	if w.cmd != nil {
		w.cmd.Process.Kill()
		w.stop()
	}
}

// measure gives a job to the process. A process that dies or takes too much memory gets the photo once more in a fresh
// process; a photo that ends that too is refused. Time is not given twice.
func (w *worker) measure(ctx context.Context, job Job) Outcome {
	var last error
	for range 2 {
		if err := w.ready(ctx); err != nil {
			return Outcome{Job: job, Err: err}
		}
		var r reply
		err := w.wait(ctx, w.bounds(job), func() error { return w.ask(job, &r) })
		if err == nil {
			if r.Err != "" {
				return Outcome{Job: job, Err: errors.New(r.Err)}
			}
			return Outcome{Job: job, Photo: r.Photo}
		}
		w.kill()
		if ctx.Err() != nil {
			return Outcome{Job: job, Err: ctx.Err()}
		}
		last = err
		if errors.Is(err, errSlow) {
			break
		}
	}
	return w.refuse(job, last)
}

// ready sees to it that there is a process, trying twice.
func (w *worker) ready(ctx context.Context) (err error) {
	for range 2 {
		if w.cmd != nil {
			return nil
		}
		if err = w.start(ctx); err == nil || ctx.Err() != nil {
			return err
		}
	}
	return fmt.Errorf("%w: %w", errNoWorker, err)
}

func (w *worker) ask(job Job, r *reply) error {
	if err := w.enc.Encode(job); err != nil {
		return err
	}
	if err := w.bw.Flush(); err != nil {
		return err
	}
	return w.dec.Decode(r)
}

// bounds are how long a talk with a process may take.
type bounds struct {
	clock     time.Duration
	processor time.Duration // what the process may have used at its end, since it began; 0: as much as it likes
}

// bounds are those of a job that begins now.
func (w *worker) bounds(job Job) bounds {
	limit := w.pool.limit(job)
	used, ok := processorTime(w.cmd.Process.Pid)
	if !ok { // this system does not tell: its clock has to do
		return bounds{clock: limit}
	}
	return bounds{clock: clockTimes * limit, processor: used + limit}
}

// wait lets talk with the process go on until it ends, the time is over, the process takes too much memory, or ctx
// ends. In the last three cases the process must be killed, which ends the talk.
func (w *worker) wait(ctx context.Context, most bounds, talk func() error) error {
	said := make(chan error, 1)
	go func() { said <- talk() }()
	over := time.NewTimer(most.clock)
	defer over.Stop()
	look := time.NewTicker(watchEvery)
	defer look.Stop()
	for {
		select {
		case err := <-said:
			return err
		case <-over.C:
			return errStuck
		case <-ctx.Done():
			return ctx.Err()
		case <-look.C:
			if w.pool.MaxRSS > 0 && residentBytes(w.cmd.Process.Pid) > w.pool.MaxRSS {
				return errMemory
			}
			if used, ok := processorTime(w.cmd.Process.Pid); ok && most.processor > 0 && used > most.processor {
				return errSlow
			}
		}
	}
}
