package desk

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"sync"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// remeasure measures stored photos anew with the grower's files as they are now, and stores the results. tell, which
// may be nil, hears of each.
func (d *Desk) remeasure(ctx context.Context, photos []*record.Photo, tell func(pipeline.Outcome)) error {
	c, err := collection.Open(d.opt.Dir)
	if err != nil {
		return err
	}
	pool, err := d.opt.Pool(c)
	if err != nil {
		return err
	}
	var jobs []pipeline.Job
	for _, p := range photos {
		path, ok := c.Original(p)
		if !ok {
			if _, err := os.Stat(p.Path); err != nil {
				return bad(http.StatusConflict, "the original of "+p.Name+" is not where it was", "Put the file back into the inbox, then repeat.")
			}
			path = p.Path
		}
		job := pipeline.Job{Path: path, Name: p.Name, Pictures: true}
		if p.Taken.Source != "exif" {
			job.GivenDate = p.Taken
		}
		jobs = append(jobs, job)
	}
	return pool.Measure(ctx, jobs, func(o pipeline.Outcome) error {
		if o.Err == nil {
			o.Err = d.store(ctx, c, &o.Photo)
		}
		if tell != nil {
			tell(o)
			return nil
		}
		return o.Err
	})
}

// store puts one measurement into the store, under the lock, in its own transaction.
func (d *Desk) store(ctx context.Context, c *collection.Collection, p *record.Photo) error {
	st, err := d.writing.take(c)
	if err != nil {
		return err
	}
	if p.SettingsKey == "" {
		p.SettingsKey = c.InputsKey(pipeline.MeasuringVersion, p)
	}
	err = st.Put(context.WithoutCancel(ctx), p)
	if e := d.writing.release(); err == nil {
		err = e
	}
	return err
}

// remeasureOne measures one stored photo and gives what it came to.
func (d *Desk) remeasureOne(ctx context.Context, p *record.Photo) (*record.Photo, error) {
	var out *record.Photo
	var failed error
	err := d.remeasure(ctx, []*record.Photo{p}, func(o pipeline.Outcome) {
		if failed = o.Err; failed == nil {
			out = &o.Photo
		}
	})
	if err == nil {
		err = failed
	}
	if err == nil && out == nil {
		err = errors.New("the photo was not measured")
	}
	return out, err
}

// job is the measuring that goes on in the background, one at a time.
type job struct {
	ctx  context.Context
	mu   sync.Mutex
	busy sync.WaitGroup
	jobState
	again bool // something came in while it ran
}

// jobState is what the progress says.
type jobState struct {
	Running bool       `json:"running"`
	Total   int        `json:"total"`
	Done    int        `json:"done"`
	Photos  []finished `json:"photos"`
	Fault   string     `json:"fault,omitempty"`
	Hint    string     `json:"hint,omitempty"`
	Serial  int        `json:"serial"` // grows with every run
}

// finished is one photo that was measured.
type finished struct {
	Name    string   `json:"name"`
	SHA     string   `json:"sha,omitempty"`
	Status  string   `json:"status"`
	What    string   `json:"what"`
	Reasons []reason `json:"reasons,omitempty"`
}

// keptFinished is how many finished photos the progress page lists, the latest ones.
const keptFinished = 400

func (j *job) wait() { j.busy.Wait() }

func (j *job) state() jobState {
	j.mu.Lock()
	defer j.mu.Unlock()
	s := j.jobState
	s.Photos = append([]finished{}, j.Photos...)
	return s
}

// start begins f in the background. Where a job runs already f is done after it.
func (j *job) start(f func(ctx context.Context) error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.Running {
		j.again = true
		return
	}
	ctx := j.ctx
	if ctx == nil {
		ctx = context.Background()
	}
	j.jobState = jobState{Running: true, Serial: j.Serial + 1}
	j.busy.Add(1)
	go func() {
		defer j.busy.Done()
		for {
			err := f(ctx)
			if !j.ended(ctx, err) {
				return
			}
		}
	}()
}

// ended notes the end of one pass and says whether another is wanted.
func (j *job) ended(ctx context.Context, err error) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	if err != nil && ctx.Err() == nil {
		j.Fault, j.Hint = err.Error(), hintOf(err)
	}
	if j.again && ctx.Err() == nil && err == nil {
		j.again = false
		return true
	}
	j.again, j.Running = false, false
	return false
}

func (j *job) plan(n int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.Total += n
}

func (j *job) done(o pipeline.Outcome) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.Done++
	f := finished{Name: o.Job.Name}
	if o.Err != nil {
		f.Status, f.What = "rejected", o.Err.Error()
	} else {
		f.SHA, f.Status, f.What, f.Reasons = o.Photo.SHA256, string(o.Photo.Status), summary(&o.Photo), reasonsOf(o.Photo.Reasons)
	}
	j.Photos = append(j.Photos, f)
	if n := len(j.Photos) - keptFinished; n > 0 {
		j.Photos = append([]finished{}, j.Photos[n:]...)
	}
}

// runDue measures what is new in the inbox and what is due again because a file of the grower's changed.
func (d *Desk) runDue(ctx context.Context) error {
	c, err := collection.Open(d.opt.Dir)
	if err != nil {
		return err
	}
	st, err := d.writing.take(c)
	if err != nil {
		return err
	}
	defer d.writing.release()
	pool, err := d.opt.Pool(c)
	if err != nil {
		return err
	}
	res, err := pipeline.Run(ctx, c, st, pipeline.RunOptions{Pool: pool, Progress: pipeline.Progress{Plan: d.job.plan, Done: d.job.done}})
	d.job.mu.Lock()
	defer d.job.mu.Unlock()
	for _, u := range res.Unknown {
		d.job.Photos = append(d.job.Photos, finished{Name: u.Rel, Status: "rejected", What: fmt.Sprintf("%s. %s", u.Why, u.Hint)})
	}
	return err
}

// startDue begins runDue in the background.
func (d *Desk) startDue() { d.job.start(d.runDue) }

// measureDue is the button that measures what is due.
func (d *Desk) measureDue(w http.ResponseWriter, r *http.Request) error {
	d.startDue()
	return back(w, r, "/add")
}

// progress says how the measuring in the background goes on.
func (d *Desk) progress(w http.ResponseWriter, r *http.Request) error {
	writeJSON(w, http.StatusOK, d.job.state())
	return nil
}
