package pipeline

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// RunOptions say what a run looks at.
type RunOptions struct {
	Dir       string       // folder of photos; "" for the inbox
	Anew      bool         // the store is lost: the kept originals are measured as well
	Full      bool         // read every file again instead of trusting path, size and time
	GivenDate record.Stamp // for photos without a date
	Pool      Pool
	Progress  Progress
}

// Progress is told how the work goes on. Any of its functions may be nil.
type Progress struct {
	Plan func(photos int)
	Done func(o Outcome)
}

// RunResult is what a run did.
type RunResult struct {
	Found, Skipped, Known int
	Unknown               []collection.Unlisted
	Measured              []record.Photo // what brief leaves of them, in the order of day, plant, name
	Errors                []error        // files that could not be read at all
	Mended                []string       // photos whose stored record was damaged and that were measured again
	Pending               int            // photos left when the run was stopped

	damaged map[string]bool         // hashes of the photos whose stored record is damaged
	dated   []collection.Correction // dates given on the command line, to be written down
}

// Run measures what is new among the photos of a folder, or whose inputs changed, and puts each into the store in one
// transaction. The caller holds the collection's lock. A run that is stopped keeps what it has done.
func Run(ctx context.Context, c *collection.Collection, st *series.Store, o RunOptions) (RunResult, error) {
	var res RunResult
	dir := o.Dir
	if dir == "" {
		dir = c.Inbox()
	}
	list, err := collection.ListPhotos(dir)
	if err != nil {
		return res, err
	}
	if o.Anew {
		kept, err := collection.ListPhotos(c.Path(collection.PhotosDir))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return res, err
		}
		list.Photos = append(list.Photos, kept.Photos...) // last, so that a photo in the inbox keeps its name
	}
	res.Found, res.Skipped, res.Unknown = len(list.Photos), list.Skipped, list.Unknown
	jobs, err := plan(ctx, c, st, list.Photos, o, &res)
	if err != nil {
		return res, err
	}
	if o.Progress.Plan != nil {
		o.Progress.Plan(len(jobs))
	}
	if len(jobs) == 0 {
		return res, c.AppendCorrections(once(res.dated)...)
	}
	id, err := st.BeginRun(ctx, MeasuringVersion)
	if err != nil {
		return res, err
	}
	run := series.Run{ID: id, Found: res.Found, Outcome: "done"}
	err = o.Pool.Measure(ctx, jobs, func(out Outcome) error {
		if out.Err != nil {
			res.Errors = append(res.Errors, fmt.Errorf("%s: %w", out.Job.Name, out.Err))
		} else if err := keep(ctx, c, st, &out.Photo, &res, &run); err != nil {
			return err
		}
		if o.Progress.Done != nil {
			out.Photo.Pictures = nil
			o.Progress.Done(out)
		}
		return nil
	})
	run.Measured = len(res.Measured)
	res.Pending = len(jobs) - len(res.Measured) - len(res.Errors)
	if err != nil {
		run.Outcome = "stopped: " + err.Error()
	}
	for _, p := range res.Measured {
		if res.damaged[p.SHA256] {
			res.Mended = append(res.Mended, p.Name)
		}
	}
	// Dates given by hand are kept with the grower's corrections, so that nothing lives in the store alone.
	if e := c.AppendCorrections(once(res.dated)...); err == nil {
		err = e
	}
	// The end of a run is noted even when the run was cancelled.
	if e := st.EndRun(context.WithoutCancel(ctx), run); err == nil {
		err = e
	}
	res.sort()
	return res, err
}

// sort puts what was measured in the order of day, plant and name.
func (r *RunResult) sort() {
	sort.Slice(r.Measured, func(i, j int) bool {
		a, b := &r.Measured[i], &r.Measured[j]
		if a.Taken.Day() != b.Taken.Day() {
			return a.Taken.Day() < b.Taken.Day()
		}
		if a.Plant != b.Plant {
			return a.Plant < b.Plant
		}
		return a.Name < b.Name
	})
}

func keep(ctx context.Context, c *collection.Collection, st *series.Store, p *record.Photo, res *RunResult, run *series.Run) error {
	if p.SHA256 == "" { // refused before it was read: nothing to file it under
		res.Measured = append(res.Measured, brief(p))
		run.Rejected++
		return nil
	}
	if p.SettingsKey == "" { // refused outside a worker
		p.SettingsKey = c.InputsKey(MeasuringVersion, p)
	}
	if p.HasReason(gate.TooLarge) {
		setExtra(p, extraLimits, limitsOf(c))
	}
	if c.Settings.Run.KeepOriginals && readable(p.Path) {
		if _, err := c.Archive(p, p.Path); errors.Is(err, collection.ErrChanged) {
			res.Errors = append(res.Errors, fmt.Errorf("%s: %w", p.Name, err))
			return nil
		} else if err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	// The photo's own transaction is let finish when the run is stopped: its work is done.
	if err := st.Put(context.WithoutCancel(ctx), p); err != nil {
		return err
	}
	if toBeDated(c, p) {
		res.dated = append(res.dated, datedOnRecord(p))
	}
	switch p.Status {
	case record.Accepted:
		run.Accepted++
	case record.Flagged:
		run.Flagged++
	default:
		run.Rejected++
	}
	res.Measured = append(res.Measured, brief(p))
	return nil
}

// once leaves one line for each photo.
func once(list []collection.Correction) (out []collection.Correction) {
	seen := map[string]bool{}
	for _, k := range list {
		if !seen[k.Photo] {
			out = append(out, k)
		}
		seen[k.Photo] = true
	}
	return out
}

// toBeDated says whether a photo's date stands nowhere but in the store: it came from the command line or from the name of a
// folder, which the kept original does not have, and is not with the grower's corrections yet. A folder's date that is in doubt
// is not put there: what stands there is believed.
func toBeDated(c *collection.Collection, p *record.Photo) bool {
	return p.Taken.FromOutside() && !(p.Taken.Source == "folder" && gate.DateInDoubt(p)) && c.OverrideFor(p.SHA256, p.Name).Date.IsZero()
}

// datedOnRecord is the line that keeps such a date with the grower's corrections.
func datedOnRecord(p *record.Photo) collection.Correction {
	why := "given with --date"
	if p.Taken.Source == "folder" {
		why = "from the name of the photo's folder"
	}
	return collection.Correction{Time: time.Now().Format(time.RFC3339), Photo: collection.PhotoRef(p.SHA256, p.Name),
		Field: collection.FieldDate, New: p.Taken.String(), Reason: why}
}

// brief is what a run keeps of a photo to its end: which it was and how it went. Numbers, outlines and pictures lie in the
// store; of thousands of photos they would fill the supervisor's memory.
func brief(p *record.Photo) record.Photo {
	return record.Photo{SHA256: p.SHA256, Name: p.Name, Path: p.Path, Plant: p.Plant, View: p.View, Taken: p.Taken, Status: p.Status, Reasons: p.Reasons}
}

// plan lists the jobs: files not seen before, and stored photos whose inputs changed. Path, size and time spare
// reading a file again.
func plan(ctx context.Context, c *collection.Collection, st *series.Store, files []collection.PhotoFile, o RunOptions, res *RunResult) ([]Job, error) {
	seen, err := st.AllSeen(ctx)
	if err != nil {
		return nil, err
	}
	stored, err := st.All(ctx)
	if err != nil {
		return nil, err
	}
	bySHA := map[string]*record.Photo{}
	for i := range stored {
		bySHA[stored[i].SHA256] = &stored[i]
	}
	damaged := st.Damaged() // records that All has left out
	res.damaged = map[string]bool{}
	for _, d := range damaged {
		res.damaged[d.SHA256] = true
	}
	again, err := st.ToRemeasure(ctx)
	if err != nil {
		return nil, err
	}
	var jobs []Job
	var sizes []int64
	var note []series.SeenFile
	planned := map[string]bool{}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		sha := ""
		if s, ok := seen[f.Path]; ok && !o.Full && s.Size == f.Size && s.MTime.Equal(f.ModTime) {
			sha = s.SHA256
		} else if sha, err = collection.HashFile(f.Path); err != nil {
			res.Errors = append(res.Errors, fmt.Errorf("%s: %w", f.Rel, err))
			continue
		} else {
			note = append(note, series.SeenFile{Path: f.Path, Size: f.Size, MTime: f.ModTime, SHA256: sha})
		}
		if planned[sha] {
			res.Known++
			continue
		}
		planned[sha] = true
		name, kept, whole := collection.GivenName(filepath.Base(f.Path), sha)
		if kept && !whole && o.Anew {
			res.Errors = append(res.Errors, fmt.Errorf("%s: this kept original is damaged or was changed, and is left out", f.Rel))
			continue
		}
		if !whole {
			name = filepath.Base(f.Path)
		}
		job := Job{Path: f.Path, Rel: f.Rel, Name: name, GivenDate: o.GivenDate, Pictures: true, Today: today()}
		if p, ok := bySHA[sha]; ok {
			dated := p.Taken.IsZero() && !o.GivenDate.IsZero()
			if !due(c, p) && !dated && !again[sha] {
				res.Known++
				continue
			}
			job.Name, job.Attempts = p.Name, attempts(p)
		}
		jobs, sizes = append(jobs, job), append(sizes, f.Size)
	}
	// Stored photos that are not in this folder, whose inputs changed: their kept originals are measured.
	for i := range stored {
		p := &stored[i]
		if toBeDated(c, p) {
			res.dated = append(res.dated, datedOnRecord(p)) // by a run that was cut off before it could write it down
		}
		if planned[p.SHA256] || !due(c, p) && !again[p.SHA256] {
			continue
		}
		path, ok := c.Original(p)
		if !ok {
			if _, err := os.Stat(p.Path); err != nil {
				continue // the original is gone; its numbers stay as they were measured
			}
			path = p.Path
		}
		jobs, sizes = append(jobs, Job{Path: path, Name: p.Name, GivenDate: givenDate(p), Pictures: true, Today: today(), Attempts: attempts(p)}), append(sizes, p.Bytes)
	}
	for _, d := range damaged {
		if planned[d.SHA256] || bySHA[d.SHA256] != nil {
			continue // a file that lies in the folder, or a record that is sound
		}
		planned[d.SHA256] = true
		path, ok := c.OriginalOf(d.SHA256)
		if !ok {
			res.Errors = append(res.Errors, fmt.Errorf("%s: what is stored of it is damaged, and its original is not kept; put the photo into the inbox again", d.Name))
			continue
		}
		name, _, _ := collection.GivenName(filepath.Base(path), d.SHA256)
		jobs, sizes = append(jobs, Job{Path: path, Name: name, Pictures: true, Today: today()}), append(sizes, fileSize(path))
	}
	if err := st.NoteSeen(ctx, note...); err != nil {
		return nil, err
	}
	return largeFirst(jobs, sizes), nil
}

// Due picks the stored photos that a run would measure again: their inputs have changed, or the last run came to no
// result, and their originals can still be had.
func Due(c *collection.Collection, photos []record.Photo) (out []*record.Photo) {
	var kept map[string]bool
	for i := range photos {
		p := &photos[i]
		if !due(c, p) {
			continue
		}
		if kept == nil {
			kept = c.Originals()
		}
		if !kept[collection.PhotoRef(p.SHA256, p.Name)] {
			if _, err := os.Stat(p.Path); err != nil {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// due says whether a stored photo must be measured again: an input other than its bytes changed, the last run could not
// come to a result, or it was refused for its size under other limits.
func due(c *collection.Collection, p *record.Photo) bool {
	return p.SettingsKey != c.InputsKey(MeasuringVersion, p) || tryAgain(p) || redate(c, p) || p.HasReason(gate.TooLarge) && p.Extra[extraLimits] != limitsOf(c)
}

// extraLimits is where a photo that was refused for its size keeps the limits that refused it.
const extraLimits = "limits"

func limitsOf(c *collection.Collection) string {
	return fmt.Sprintf("%d megapixels, %d MB", c.Settings.Run.MaxMegapixels, c.Settings.Run.MaxFileMB)
}

func setExtra(p *record.Photo, key, value string) {
	if p.Extra == nil {
		p.Extra = map[string]string{}
	}
	p.Extra[key] = value
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

// largeFirst orders jobs so that no worker is left alone with a large photo at the end.
func largeFirst(jobs []Job, sizes []int64) []Job {
	order := make([]int, len(jobs))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return sizes[order[a]] > sizes[order[b]] })
	out := make([]Job, len(jobs))
	for i, k := range order {
		out[i] = jobs[k]
	}
	return out
}

// givenDate keeps a date that did not come from the photo itself when the kept original, with another name, is
// measured again.
func givenDate(p *record.Photo) record.Stamp {
	if p.Taken.Source == "exif" {
		return record.Stamp{}
	}
	return p.Taken
}
