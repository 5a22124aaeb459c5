package intake

import (
	"context"
	"errors"
	"fmt"
	"os"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// sink is where measured photos end: the store, or a folder of result files. An error that is collection.ErrChanged concerns that photo
// alone, any other ends the run.
type sink interface {
	put(ctx context.Context, p *record.Photo) error
}

// filer puts what was measured into its sink and keeps count.
type filer struct {
	c    *collection.Collection
	sink sink
	res  *Result
}

// outcome files what came of a job.
func (f *filer) outcome(ctx context.Context, o pipeline.Outcome) error {
	if o.Err != nil {
		f.res.Errors = append(f.res.Errors, fmt.Errorf("%s: %w", o.Job.Name, o.Err))
		return nil
	}
	_, err := f.photo(ctx, &o.Photo)
	return err
}

// photo files a measured photo; filed is false where its file is another by now.
func (f *filer) photo(ctx context.Context, p *record.Photo) (filed bool, err error) {
	complete(f.c, p)
	if err := f.sink.put(ctx, p); errors.Is(err, collection.ErrChanged) {
		f.res.Errors = append(f.res.Errors, fmt.Errorf("%s: %w", p.Name, err))
		return false, nil
	} else if err != nil {
		return false, err
	}
	f.res.Measured = append(f.res.Measured, brief(p))
	return true, nil
}

// complete adds what a photo lacks that was refused outside a worker: the key of its inputs, and the limits that refused it.
func complete(c *collection.Collection, p *record.Photo) {
	if p.SettingsKey == "" {
		p.SettingsKey = c.InputsKey(pipeline.MeasuringVersion, p)
	}
	if p.HasReason(gate.TooLarge) && p.Extra[extraLimits] == "" {
		if p.Extra == nil {
			p.Extra = map[string]string{}
		}
		p.Extra[extraLimits] = limitsOf(c)
	}
}

// File puts a photo that was measured again into the store. The caller holds the collection's lock.
func File(ctx context.Context, c *collection.Collection, st *series.Store, p *record.Photo) error {
	complete(c, p)
	return st.Put(context.WithoutCancel(ctx), p)
}

// storeSink puts photos into the store, each in a transaction of its own, and their originals by.
type storeSink struct {
	c     *collection.Collection
	st    *series.Store
	run   *series.Run             // counts
	dated []collection.Correction // dates that stand nowhere else yet
}

func (s *storeSink) put(ctx context.Context, p *record.Photo) error {
	if p.SHA256 == "" { // refused before it was read: nothing to file it under
		s.run.Rejected++
		return nil
	}
	if s.c.Settings.Run.KeepOriginals && readable(p.Path) {
		if _, err := s.c.Archive(p, p.Path); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	// The photo's own transaction is let finish when the run is stopped: its work is done.
	if err := s.st.Put(context.WithoutCancel(ctx), p); err != nil {
		return err
	}
	s.date(p)
	switch p.Status {
	case record.Accepted:
		s.run.Accepted++
	case record.Flagged:
		s.run.Flagged++
	default:
		s.run.Rejected++
	}
	return nil
}

// folderSink leaves photos as result files for a merge.
type folderSink struct {
	dir  string
	seen map[string][]series.SeenFile // the files of each content
}

func (s *folderSink) put(_ context.Context, p *record.Photo) error {
	files, ok := s.seen[p.SHA256]
	if !ok { // the file was replaced since it was listed
		return collection.ErrChanged
	}
	return writeResult(s.dir, result{Photo: *p, Seen: files})
}

// readable says whether a file can still be opened: the folder that a photo came from may be gone (a network folder, a
// card that was pulled out); its numbers are kept all the same.
func readable(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	return f.Close() == nil
}
