package pipeline

import (
	"bufio"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"

	"phototrack/internal/collection"
	"phototrack/internal/cv"
	"phototrack/internal/record"
)

// reply is what a worker answers to a job.
type reply struct {
	Photo record.Photo
	Err   string // the file could not be opened
}

// Serve is the life of a worker process: jobs come in, photos go out, one at a time, until the input ends (the parent
// is gone or has no more work). A decoder that ends the process takes one photo with it, not the batch.
func Serve(in io.Reader, out io.Writer, c *collection.Collection) error {
	cv.SetThreads(1)
	runtime.GOMAXPROCS(2) // one for the work, one for the collector: photos are the parallel unit
	debug.SetGCPercent(50)
	dec, w := gob.NewDecoder(bufio.NewReader(in)), bufio.NewWriter(out)
	enc := gob.NewEncoder(w)
	for {
		var job Job
		if err := dec.Decode(&job); errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return nil
		} else if err != nil {
			return err
		}
		if err := enc.Encode(serveOne(job, c)); err != nil {
			return err
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
}

func serveOne(job Job, c *collection.Collection) (r reply) {
	maxBytes := int64(collection.DefaultSettings().Run.MaxFileMB) * 1_000_000
	if c != nil {
		maxBytes = int64(c.Settings.Run.MaxFileMB) * 1_000_000
	}
	st, err := os.Stat(job.Path)
	if err != nil {
		return reply{Err: err.Error()}
	}
	if st.Size() > maxBytes {
		p := record.Photo{Name: job.Name, Path: job.Path, Bytes: st.Size(), Status: record.Rejected,
			Reasons: []record.Reason{{Code: "too_large", Detail: fmt.Sprintf("%d MB", st.Size()/1_000_000)}}}
		return reply{Photo: p}
	}
	data, err := os.ReadFile(job.Path)
	if err != nil {
		return reply{Err: err.Error()}
	}
	return reply{Photo: safeMeasure(data, job, c)}
}

// safeMeasure turns a panic on one photo into a refusal of that photo.
func safeMeasure(data []byte, job Job, c *collection.Collection) (p record.Photo) {
	defer func() {
		if e := recover(); e != nil {
			if os.Getenv("PHOTOTRACK_TRACE") != "" {
				debug.PrintStack()
			}
			p = refused(data, job, "crashed", fmt.Sprint(e))
			if c != nil {
				p.SettingsKey = c.InputsKey(MeasuringVersion, &p)
			}
		}
	}()
	return Measure(data, job, c)
}
