package desk

import (
	"sync"
	"sync/atomic"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/intake"
	"phototrack/internal/series"
)

// holder is the right to write, shared by the requests of this process: the collection's lock and the store's one
// writer are taken with the first and given up with the last, so that a command on the command line gets its turn.
type holder struct {
	mu    sync.Mutex
	n     int
	lock  *fsx.Lock
	store *series.Store
	files sync.Mutex // one change of the grower's files at a time

	stored, edited atomic.Uint64 // how often this process has changed the store, and the grower's files
}

// take gives the store for writing. Call release when done; on an error there is nothing to release.
func (h *holder) take(c *collection.Collection) (*series.Store, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.n == 0 {
		lock, err := c.Lock()
		if err != nil {
			return nil, err
		}
		st, err := intake.OpenStore(c, false)
		if err != nil {
			lock.Close()
			return nil, err
		}
		h.lock, h.store = lock, st
	}
	h.n++
	return h.store, nil
}

func (h *holder) release() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.n--
	if h.n > 0 {
		return nil
	}
	err := h.store.Close()
	if e := h.lock.Close(); err == nil {
		err = e
	}
	return err
}

// change reads the collection as it is on disk now and lets f add to it, under the lock.
func (d *Desk) change(f func(c *collection.Collection) error) error {
	d.writing.files.Lock()
	defer d.writing.files.Unlock()
	c, err := collection.Find(d.opt.Dir)
	if err != nil {
		return err
	}
	if _, err := d.writing.take(c); err != nil {
		return err
	}
	if err = c.Reload(); err == nil {
		err = f(c)
	}
	d.writing.edited.Add(1)
	if e := d.writing.release(); err == nil {
		err = e
	}
	return err
}
