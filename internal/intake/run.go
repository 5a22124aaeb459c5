package intake

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// Run measures what is new among the photos of a folder, or whose inputs changed, and puts each into the store in one
// transaction. The caller holds the collection's lock. A run that is stopped keeps what it has done.
func Run(ctx context.Context, c *collection.Collection, st *series.Store, o Options) (res Result, err error) {
	files, err := listed(c, o, &res)
	if err != nil {
		return res, err
	}
	index, err := indexStore(ctx, st)
	if err != nil {
		return res, err
	}
	run := series.Run{Found: res.Found, Outcome: "done"}
	into := &storeSink{c: c, st: st, run: &run}
	pl, err := index.plan(ctx, c, files, o, into)
	if err != nil {
		return res, err
	}
	res.Known, res.Errors, res.Gone = pl.known, pl.errors, pl.gone
	o.Progress.plan(len(pl.jobs))
	if len(pl.jobs) == 0 {
		return res, into.writeDates()
	}
	if run.ID, err = st.BeginRun(ctx, pipeline.MeasuringVersion); err != nil {
		return res, err
	}
	f := &filer{c: c, sink: into, res: &res}
	err = o.Pool.Measure(ctx, pl.largeFirst(), func(out pipeline.Outcome) error {
		if err := f.outcome(ctx, out); err != nil {
			return err
		}
		o.Progress.done(out)
		return nil
	})
	res.Pending = len(pl.jobs) - len(res.Measured) - len(res.Errors)
	for _, p := range res.Measured {
		if index.damaged[p.SHA256] {
			res.Mended = append(res.Mended, p.Name)
		}
	}
	err = into.end(ctx, &res, err)
	return res, err
}

// end closes a run that came to its end or, with an error, was stopped.
func (s *storeSink) end(ctx context.Context, res *Result, err error) error {
	if err != nil {
		s.run.Outcome = "stopped: " + err.Error()
	}
	s.run.Measured = len(res.Measured)
	if e := s.writeDates(); err == nil {
		err = e
	}
	if s.run.ID != 0 { // noted even when the run was cancelled
		if e := s.st.EndRun(context.WithoutCancel(ctx), *s.run); err == nil {
			err = e
		}
	}
	res.sort()
	return err
}

// listed lists the photos of the folder, and where the store is lost the kept originals behind them.
func listed(c *collection.Collection, o Options, res *Result) ([]collection.PhotoFile, error) {
	list, err := collection.ListPhotos(o.dir(c))
	if err != nil {
		return nil, err
	}
	if o.Anew {
		kept, err := collection.ListPhotos(c.Path(collection.PhotosDir))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return nil, err
		}
		list.Photos = append(list.Photos, kept.Photos...) // last, so that a photo in the inbox keeps its name
	}
	res.Found, res.Skipped, res.Unknown = len(list.Photos), list.Skipped, list.Unknown
	return list.Photos, nil
}

// storeIndex is what the store knows when a run begins.
type storeIndex struct {
	st      *series.Store
	seen    map[string]series.SeenFile // files by path
	stored  []record.Photo
	bySHA   map[string]*record.Photo
	again   map[string]bool // hashes of photos that are to be measured again in any case
	damaged map[string]bool // hashes of photos whose record is damaged
}

func indexStore(ctx context.Context, st *series.Store) (b *storeIndex, err error) {
	b = &storeIndex{st: st, bySHA: map[string]*record.Photo{}, damaged: map[string]bool{}}
	if b.seen, err = st.AllSeen(ctx); err != nil {
		return nil, err
	}
	if b.stored, err = st.All(ctx); err != nil {
		return nil, err
	}
	for i := range b.stored {
		b.bySHA[b.stored[i].SHA256] = &b.stored[i]
	}
	for _, d := range st.Damaged() { // records that All has left out
		b.damaged[d.SHA256] = true
	}
	b.again, err = st.ToRemeasure(ctx)
	return b, err
}

// plan lists the jobs of a run: files not seen before, and stored photos whose inputs changed. Path, size and time spare reading a
// file again.
func (b *storeIndex) plan(ctx context.Context, c *collection.Collection, files []collection.PhotoFile, o Options, into *storeSink) (*plan, error) {
	pl := newPlan(c, o.GivenDate)
	var note []series.SeenFile
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		sha, err := b.hash(f, o.Full, &note)
		if err != nil {
			pl.fault(f.Rel, err)
			continue
		}
		pl.seen(f, sha, b, o.Anew)
	}
	// Stored photos that are not in this folder, whose inputs changed: their kept originals are measured.
	for i := range b.stored {
		p := &b.stored[i]
		into.date(p) // of a run that was cut off before it could write it down
		if pl.planned[p.SHA256] || !due(c, p) && !b.again[p.SHA256] {
			continue
		}
		job, err := Again(c, p)
		if err != nil {
			if p.Status != record.Rejected { // a bad photo that was taken away is not asked for again
				pl.gone = append(pl.gone, p.Name)
			}
			continue
		}
		pl.add(job, p.Bytes)
	}
	for _, d := range b.st.Damaged() {
		if !pl.planned[d.SHA256] && b.bySHA[d.SHA256] == nil { // no file that lies in the folder, nor a record that is sound
			pl.lost(d.SHA256, d.Name)
		}
	}
	return pl, b.st.NoteSeen(ctx, note...)
}

// seen plans a file whose content is known. A kept original that is not what it was is left out where the store is made anew.
func (pl *plan) seen(f collection.PhotoFile, sha string, b *storeIndex, anew bool) {
	name, kept, whole := collection.GivenName(filepath.Base(f.Path), sha)
	if kept && !whole && anew && !pl.planned[sha] {
		pl.planned[sha] = true
		pl.fault(f.Rel, errors.New("this kept original is damaged or was changed, and is left out"))
		return
	}
	if !whole {
		name = filepath.Base(f.Path)
	}
	before := b.bySHA[sha]
	if before != nil {
		name = before.Name
	}
	pl.file(f, sha, name, before, b.again[sha])
}

// hash is a file's content hash: as it was when the file was last seen, where size and time are the same, unless full asks to read
// every file. What was read is noted.
func (b *storeIndex) hash(f collection.PhotoFile, full bool, note *[]series.SeenFile) (string, error) {
	if s, ok := b.seen[f.Path]; ok && !full && s.Size == f.Size && s.MTime.Equal(f.ModTime) {
		return s.SHA256, nil
	}
	sha, err := collection.HashFile(f.Path)
	if err == nil {
		*note = append(*note, series.SeenFile{Path: f.Path, Size: f.Size, MTime: f.ModTime, SHA256: sha})
	}
	return sha, err
}
