package desk

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/intake"
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
		job, err := intake.Again(c, p)
		if err != nil {
			// Its numbers stay as they were measured; the others are measured all the same.
			gone := notWhereItWas(p.Name)
			if tell == nil {
				return gone
			}
			tell(pipeline.Outcome{Job: pipeline.Job{Name: p.Name}, Photo: *p, Err: gone})
			continue
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
	err = intake.File(ctx, c, st, p)
	d.writing.stored.Add(1)
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
	queue []task // what is done after the work under way
}

// task is work for the background. Of tasks with the same name only one waits: the later one would find nothing to do.
type task struct {
	name string
	do   func(ctx context.Context) error
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

// start begins work in the background. Where some is under way already it comes after that.
func (j *job) start(t task) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, q := range j.queue {
		if t.name != "" && q.name == t.name {
			return
		}
	}
	j.queue = append(j.queue, t)
	if j.Running {
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
		for t, ok := j.next(ctx); ok; t, ok = j.next(ctx) {
			j.ended(ctx, t.do(ctx))
		}
	}()
}

// next takes the next task out of the queue; ok is false where all is done, or the desk closes.
func (j *job) next(ctx context.Context) (t task, ok bool) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if len(j.queue) == 0 || ctx.Err() != nil {
		j.queue, j.Running = nil, false
		return t, false
	}
	t, j.queue = j.queue[0], j.queue[1:]
	return t, true
}

// ended notes what a task came to.
func (j *job) ended(ctx context.Context, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if err != nil && ctx.Err() == nil {
		j.Fault, j.Hint = err.Error(), hintOf(err)
	}
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
	res, err := intake.Run(ctx, c, st, intake.Options{Pool: pool, Progress: intake.Progress{Plan: d.job.plan, Done: func(o pipeline.Outcome) {
		d.writing.stored.Add(1)
		d.job.done(o)
	}}})
	d.job.mu.Lock()
	defer d.job.mu.Unlock()
	for _, u := range res.Unknown {
		d.job.Photos = append(d.job.Photos, finished{Name: u.Rel, Status: "rejected", What: fmt.Sprintf("%s. %s", u.Why, u.Hint)})
	}
	for _, name := range res.Gone[:min(len(res.Gone), keptFinished)] {
		gone := notWhereItWas(name)
		d.job.Photos = append(d.job.Photos, finished{Name: name, Status: "rejected", What: gone.Error() + ". " + fsx.HintOf(gone)})
	}
	return err
}

// notWhereItWas says that a photo could not be measured again.
func notWhereItWas(name string) error {
	return bad(http.StatusConflict, "the original of "+name+" is not where it was, so it was not measured again", "Put the file back into the inbox, then repeat.")
}

// startDue begins runDue in the background.
func (d *Desk) startDue() { d.job.start(task{"due", d.runDue}) }

// startThese measures stored photos anew in the background.
func (d *Desk) startThese(photos []*record.Photo) {
	d.job.start(task{do: func(ctx context.Context) error {
		d.job.plan(len(photos))
		return d.remeasure(ctx, photos, d.job.done)
	}})
}

// changeInputs lets f change the grower's files. Those photos whose measuring rests on what was changed, and no others,
// are measured again in the background; n is how many.
func (d *Desk) changeInputs(s *snapshot, f func(c *collection.Collection) error) (n int, err error) {
	var touched []*record.Photo
	err = d.change(func(c *collection.Collection) error {
		before := make([]string, len(s.photos))
		for i := range s.photos {
			before[i] = c.InputsKey(pipeline.MeasuringVersion, &s.photos[i])
		}
		if err := f(c); err != nil {
			return err
		}
		for i := range s.photos {
			if p := &s.photos[i]; c.InputsKey(pipeline.MeasuringVersion, p) != before[i] {
				touched = append(touched, p)
			}
		}
		return nil
	})
	if len(touched) > 0 {
		d.startThese(touched)
	}
	return len(touched), err
}

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
