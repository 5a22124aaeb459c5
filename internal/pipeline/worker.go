package pipeline

import (
	"bufio"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"sync/atomic"

	"phototrack/internal/collection"
	"phototrack/internal/cv"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// reply is what a worker answers to a job.
type reply struct {
	Photo record.Photo
	Err   string // the file could not be opened
}

// Serve is the life of a worker process: it greets, then jobs come in and photos go out, one at a time, until the input
// ends (the parent is gone or has no more work). A decoder that ends the process takes one photo with it, not the batch.
//
// Abandon is called when the input ends while a photo is being measured: nobody waits for it any more. A process passes
// a function that exits; nil lets the photo be finished.
func Serve(in io.Reader, out io.Writer, c *collection.Collection, abandon func()) error {
	cv.SetThreads(1)
	runtime.GOMAXPROCS(2) // one for the work, one for the collector: photos are the parallel unit
	// What is alive is a few large pictures, which cost nothing to look through: collecting often saves memory, and no time is lost.
	debug.SetGCPercent(25)
	offerToBeKilled()
	w := bufio.NewWriter(out)
	enc := gob.NewEncoder(w)
	say := func(v any) error {
		if err := enc.Encode(v); err != nil {
			return err
		}
		return w.Flush()
	}
	if err := say(greeting{Version: MeasuringVersion}); err != nil {
		return err
	}
	var busy atomic.Bool
	jobs := make(chan Job)
	var readErr error
	go func() {
		defer close(jobs)
		dec := gob.NewDecoder(bufio.NewReader(in))
		for {
			var job Job
			if readErr = dec.Decode(&job); readErr != nil {
				if busy.Load() && abandon != nil {
					abandon()
				}
				return
			}
			busy.Store(true)
			jobs <- job
		}
	}()
	var measurer Measurer
	for job := range jobs {
		r := serveOne(job, c, &measurer)
		busy.Store(false)
		if err := say(r); err != nil {
			return err
		}
	}
	if errors.Is(readErr, io.EOF) || errors.Is(readErr, io.ErrUnexpectedEOF) {
		return nil
	}
	return readErr
}

func serveOne(job Job, c *collection.Collection, w *Measurer) (r reply) {
	maxBytes := int64(collection.DefaultSettings().Run.MaxFileMB) * 1_000_000
	if c != nil {
		maxBytes = int64(c.Settings.Run.MaxFileMB) * 1_000_000
	}
	st, err := os.Stat(job.Path)
	if err != nil {
		return reply{Err: err.Error()}
	}
	if !st.Mode().IsRegular() {
		return reply{Err: job.Path + " is not an ordinary file"}
	}
	if st.Size() > maxBytes {
		return tooLarge(job, st.Size(), c)
	}
	data, err := os.ReadFile(job.Path)
	if err != nil {
		return reply{Err: err.Error()}
	}
	return reply{Photo: safeMeasure(data, job, c, w)}
}

// tooLarge refuses a file for its length, without holding it in memory.
func tooLarge(job Job, bytes int64, c *collection.Collection) reply {
	sum, err := collection.HashFile(job.Path)
	if err != nil {
		return reply{Err: err.Error()}
	}
	p := record.Photo{Name: job.Name, Path: job.Path, SHA256: sum, Bytes: bytes, Status: record.Rejected,
		Reasons: []record.Reason{{Code: gate.TooLarge, Detail: fmt.Sprintf("%d MB", bytes/1_000_000)}}}
	if c != nil {
		p.SettingsKey = c.InputsKey(MeasuringVersion, &p)
	}
	return reply{Photo: p}
}

// safeMeasure turns a panic on one photo into a refusal of that photo.
func safeMeasure(data []byte, job Job, c *collection.Collection, w *Measurer) (p record.Photo) {
	defer func() {
		if e := recover(); e != nil {
			if os.Getenv("PHOTOTRACK_TRACE") != "" {
				debug.PrintStack()
			}
			p = refused(job, collection.Hash(data), int64(len(data)), gate.Crashed, fmt.Sprint(e))
			if c != nil {
				p.SettingsKey = c.InputsKey(MeasuringVersion, &p)
			}
		}
	}()
	p = w.Measure(data, job, c)
	if err := storable(&p); err != nil {
		panic(err)
	}
	return p
}

// storable says whether a photo can be written down: a value that is not a number, or a year beyond 9999, must end as
// this photo's refusal and not as an error of the store, which ends the run.
func storable(p *record.Photo) error {
	q := *p
	q.Quantities, q.Pictures = nil, nil
	_, err := json.Marshal(q)
	return err
}
