package intake

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// plan is the list of jobs as it is made: each content once, whatever its files are called.
type plan struct {
	c       *collection.Collection
	given   record.Stamp    // for photos without a date
	planned map[string]bool // hashes of what was looked at
	jobs    []pipeline.Job
	sizes   []int64
	known   int     // files that need not be measured
	errors  []error // of files that cannot be
	gone    []string
}

func newPlan(c *collection.Collection, given record.Stamp) *plan {
	return &plan{c: c, given: given, planned: map[string]bool{}}
}

// file plans a file of the folder whose content has this hash. before is what was measured of that content, nil for nothing; it is
// measured again where it is due, where it lacks the date that is given now, or where again asks for it.
func (pl *plan) file(f collection.PhotoFile, sha, name string, before *record.Photo, again bool) {
	if pl.planned[sha] {
		pl.known++
		return
	}
	pl.planned[sha] = true
	job := pipeline.Job{Path: f.Path, Rel: f.Rel, Name: name, GivenDate: pl.given, Pictures: true, Today: pipeline.Today()}
	if before != nil {
		dated := before.Taken.IsZero() && !pl.given.IsZero()
		if !due(pl.c, before) && !dated && !again {
			pl.known++
			return
		}
		job.Attempts = pipeline.Attempts(before)
	}
	pl.add(job, f.Size)
}

func (pl *plan) add(job pipeline.Job, size int64) {
	pl.jobs, pl.sizes = append(pl.jobs, job), append(pl.sizes, size)
}

// fault notes a file that cannot be measured.
func (pl *plan) fault(name string, err error) {
	pl.errors = append(pl.errors, fmt.Errorf("%s: %w", name, err))
}

// largeFirst gives the jobs in an order in which no worker is left alone with a large photo at the end.
func (pl *plan) largeFirst() []pipeline.Job {
	order := make([]int, len(pl.jobs))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return pl.sizes[order[a]] > pl.sizes[order[b]] })
	out := make([]pipeline.Job, len(pl.jobs))
	for i, k := range order {
		out[i] = pl.jobs[k]
	}
	return out
}

// ErrGone says that a stored photo's original is neither kept nor where it was.
var ErrGone = errors.New("the original is not where it was")

// Again is the job that measures a stored photo anew, from its kept original or from where it was. Errors: ErrGone.
func Again(c *collection.Collection, p *record.Photo) (pipeline.Job, error) {
	path, ok := c.Original(p)
	if !ok {
		if _, err := os.Stat(p.Path); err != nil {
			return pipeline.Job{}, fmt.Errorf("%s: %w", p.Name, ErrGone)
		}
		path = p.Path
	}
	job := pipeline.Job{Path: path, Name: p.Name, Pictures: true, Today: pipeline.Today(), Attempts: pipeline.Attempts(p)}
	if p.Taken.Source != "exif" { // the kept original, with another name, does not have it
		job.GivenDate = p.Taken
	}
	return job, nil
}

// lost plans the original of a photo whose stored record is damaged.
func (pl *plan) lost(sha, name string) {
	pl.planned[sha] = true
	path, ok := pl.c.OriginalOf(sha)
	if !ok {
		pl.fault(name, errors.New("what is stored of it is damaged, and its original is not kept; put the photo into the inbox again"))
		return
	}
	name, _, _ = collection.GivenName(filepath.Base(path), sha)
	size := int64(0)
	if st, err := os.Stat(path); err == nil {
		size = st.Size()
	}
	pl.add(pipeline.Job{Path: path, Name: name, Pictures: true, Today: pipeline.Today()}, size)
}
