package desk

import (
	"errors"
	"io"
	"net/http"
	"os"
	"time"
)

// A body must come at bodyRate bytes a second or faster, after bodyGrace: a request that is left open, or fed a byte at a
// time, would otherwise hold a connection and, of an upload, a file for ever. On the same computer a body takes seconds.
const (
	bodyGrace = 30 * time.Second
	bodyRate  = 50_000
)

// paced is a request's body with a time limit that grows with what has come.
type paced struct {
	io.ReadCloser
	limit func(time.Time) error
	begun time.Time
	grace time.Duration
	n     int64
}

func newPaced(w http.ResponseWriter, body io.ReadCloser) *paced {
	return &paced{ReadCloser: body, limit: http.NewResponseController(w).SetReadDeadline, begun: time.Now(), grace: bodyGrace}
}

// Read reads on, as long as there is time.
func (p *paced) Read(b []byte) (int, error) {
	until := p.begun.Add(p.grace + time.Duration(float64(p.n)/bodyRate*float64(time.Second)))
	if err := p.limit(until); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, err
	}
	n, err := p.ReadCloser.Read(b)
	p.n += int64(n)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = bad(http.StatusRequestTimeout, "the data came too slowly", "Send it again; copy the photos into the inbox with the file manager if it does not help.")
	}
	if err != nil {
		p.limit(time.Time{}) // the connection may carry more requests
	}
	return n, err
}
