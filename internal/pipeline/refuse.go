package pipeline

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// extraAttempts is where a photo that no worker could measure keeps how many runs have tried.
const extraAttempts = "attempts"

// maxAttempts is in how many runs such a photo is tried. A worker may have died for a reason outside the photo (killed
// by hand, a full memory), so one run is not the last word; but a photo that always fails must not cost time for ever.
const maxAttempts = 3

// refused is the outcome of a photo that no worker could measure.
func refused(job Job, sha256 string, bytes int64, code record.GateCode, detail string) record.Photo {
	p := record.Photo{Name: job.Name, Path: job.Path, SHA256: sha256, Bytes: bytes,
		Status: record.Rejected, Reasons: []record.Reason{{Code: code, Detail: detail}},
		Extra: map[string]string{extraAttempts: strconv.Itoa(job.Attempts + 1)}}
	if s, ok := collection.DateFromName(job.rel()); ok {
		p.Taken = s
	}
	return p
}

// Attempts is how many runs have failed to measure a photo, 0 where one came to a result.
func Attempts(p *record.Photo) int {
	for _, code := range []record.GateCode{gate.Crashed, gate.Timeout, gate.Memory} {
		if p.HasReason(code) {
			n, _ := strconv.Atoi(p.Extra[extraAttempts])
			return max(1, n)
		}
	}
	return 0
}

// TryAgain says that a stored refusal was no judgement of the photo itself and is worth another run.
func TryAgain(p *record.Photo) bool {
	n := Attempts(p)
	return n > 0 && n < maxAttempts
}

// refuse turns the loss of two workers, or of one that was too slow, into the photo's outcome.
func (w *worker) refuse(job Job, why error) Outcome {
	sum, err := collection.HashFile(job.Path)
	if err != nil {
		return Outcome{Job: job, Err: err}
	}
	var code record.GateCode
	var detail string
	limit := w.pool.limit(job)
	switch {
	case errors.Is(why, errStuck):
		code, detail = gate.Timeout, fmt.Sprintf("it waited for something, in all for %s", clockTimes*limit)
	case errors.Is(why, errSlow):
		code, detail = gate.Timeout, fmt.Sprintf("over %s of processor time", limit)
	case errors.Is(why, errMemory):
		code, detail = gate.Memory, fmt.Sprintf("over %d MB", w.pool.MaxRSS/1_000_000)
	default:
		code, detail = gate.Crashed, filepath.Base(w.pool.Command[0])+" ended twice"
	}
	var size int64
	if st, err := os.Stat(job.Path); err == nil {
		size = st.Size()
	}
	return Outcome{Job: job, Photo: refused(job, sum, size, code, detail)}
}
