package pipeline

import (
	"context"
	"sync"
	"time"

	"phototrack/internal/record"
)

// Pool measures photos in worker processes.
type Pool struct {
	Command []string // how to start a worker: it must call Serve on its standard input and output
	Workers int
	Limit   time.Duration // of processor time, per photo: a worker that takes more is stopped. By the clock it may take clockTimes as long
	MaxRSS  int64         // bytes of memory a worker may hold; one that takes more is stopped. 0: no bound

	limitOf func(Job) time.Duration // in place of Limit, for tests: the jobs that are to end too late, and no others
}

// limit is how much processor time a job may take.
func (p Pool) limit(job Job) time.Duration {
	if p.limitOf != nil {
		return p.limitOf(job)
	}
	return p.Limit
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
			p.work(ctx, queue, out)
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

// work measures with one worker what comes through the queue, until that is closed or ctx ends.
func (p Pool) work(ctx context.Context, queue <-chan Job, out chan<- Outcome) {
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
}
