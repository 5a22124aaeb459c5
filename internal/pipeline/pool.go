package pipeline

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// Pool measures photos in worker processes.
type Pool struct {
	Command []string // how to start a worker: it must call Serve on its standard input and output
	Workers int
	Limit   time.Duration // per photo; a worker that is slower is stopped
}

// refused is the outcome of a photo that no worker could measure.
func refused(data []byte, job Job, code, detail string) record.Photo {
	sum := sha256.Sum256(data)
	p := record.Photo{Name: job.Name, Path: job.Path, SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data)),
		Status: record.Rejected, Reasons: []record.Reason{{Code: code, Detail: detail}}}
	if s, ok := collection.DateFromName(job.rel()); ok {
		p.Taken = s
	}
	return p
}

// Outcome is a job's photo, or the error that kept its file from being read at all.
type Outcome struct {
	Job   Job
	Photo record.Photo
	Err   error
}

// Measure measures the jobs and hands each outcome to done, from one goroutine at a time, in the order in which they
// end. It returns when all are done, when done returns an error, or when ctx ends; workers are then stopped.
func (p Pool) Measure(ctx context.Context, jobs []Job, done func(Outcome) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	queue := make(chan Job)
	out := make(chan Outcome)
	var wg sync.WaitGroup
	for range max(1, min(p.Workers, len(jobs))) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w := &worker{pool: p}
			defer w.stop()
			for job := range queue {
				o := w.measure(ctx, job)
				if ctx.Err() != nil {
					return
				}
				select {
				case out <- o:
				case <-ctx.Done():
					return
				}
			}
		}()
	}
	go func() {
		defer close(queue)
		for _, j := range jobs {
			select {
			case queue <- j:
			case <-ctx.Done():
				return
			}
		}
	}()
	go func() { wg.Wait(); close(out) }()
	var failed error
	for o := range out {
		if failed != nil {
			continue
		}
		if failed = done(o); failed != nil {
			cancel()
		}
	}
	if failed != nil {
		return failed
	}
	return ctx.Err()
}

// worker is one worker process, started when it is first needed and replaced when it dies.
type worker struct {
	pool Pool
	cmd  *exec.Cmd
	in   io.WriteCloser
	enc  *gob.Encoder
	dec  *gob.Decoder
	bw   *bufio.Writer
}

func (w *worker) start() error {
	cmd := exec.Command(w.pool.Command[0], w.pool.Command[1:]...)
	cmd.Stderr = os.Stderr
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
	w.cmd, w.in, w.bw = cmd, in, bufio.NewWriter(in)
	w.enc, w.dec = gob.NewEncoder(w.bw), gob.NewDecoder(bufio.NewReaderSize(out, 1<<16))
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
	w.cmd = nil
}

func (w *worker) kill() {
	if w.cmd != nil {
		w.cmd.Process.Kill()
		w.stop()
	}
}

var errSlow = errors.New("took too long")

// measure gives a job to the process. A process that dies gets the photo once more in a fresh process; a photo that
// kills that too is refused.
func (w *worker) measure(ctx context.Context, job Job) Outcome {
	var last error
	for range 2 {
		if w.cmd == nil {
			if err := w.start(); err != nil {
				return Outcome{Job: job, Err: fmt.Errorf("the measuring process does not start: %w", err)}
			}
		}
		r, err := w.ask(ctx, job)
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
	data, err := os.ReadFile(job.Path)
	if err != nil {
		return Outcome{Job: job, Err: err}
	}
	if errors.Is(last, errSlow) {
		return Outcome{Job: job, Photo: refused(data, job, "timeout", fmt.Sprintf("over %s", w.pool.Limit))}
	}
	return Outcome{Job: job, Photo: refused(data, job, "crashed", filepath.Base(w.pool.Command[0])+" ended twice")}
}

func (w *worker) ask(ctx context.Context, job Job) (reply, error) {
	type answer struct {
		r   reply
		err error
	}
	ch := make(chan answer, 1)
	enc, dec, bw := w.enc, w.dec, w.bw
	go func() {
		var a answer
		if a.err = enc.Encode(job); a.err == nil {
			a.err = bw.Flush()
		}
		if a.err == nil {
			a.err = dec.Decode(&a.r)
		}
		ch <- a
	}()
	timer := time.NewTimer(w.pool.Limit)
	defer timer.Stop()
	select {
	case a := <-ch:
		return a.r, a.err
	case <-timer.C:
		return reply{}, errSlow
	case <-ctx.Done():
		return reply{}, ctx.Err()
	}
}
