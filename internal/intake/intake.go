// Package intake is the one way in for photos: it plans which have to be measured, has package pipeline measure them, and files what comes
// of each. Run takes a folder into the store; RunPart leaves its share of one as files, which Merge brings into the store; the desk
// asks for photos that are stored already (Again, File).
package intake

import (
	"sort"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// Options say what a run looks at.
type Options struct {
	Dir       string       // folder of photos; "" for the inbox
	Anew      bool         // the store is lost: the kept originals are measured as well
	Full      bool         // read every file again instead of trusting path, size and time
	GivenDate record.Stamp // for photos without a date
	Pool      pipeline.Pool
	Progress  Progress
}

// dir is the folder that is looked through.
func (o *Options) dir(c *collection.Collection) string {
	if o.Dir != "" {
		return o.Dir
	}
	return c.Inbox()
}

// Progress is told how the work goes on. Any of its functions may be nil.
type Progress struct {
	Plan func(photos int)
	Done func(o pipeline.Outcome)
}

func (p Progress) plan(n int) {
	if p.Plan != nil {
		p.Plan(n)
	}
}

func (p Progress) done(o pipeline.Outcome) {
	if p.Done != nil {
		o.Photo.Pictures = nil
		p.Done(o)
	}
}

// Result is what a run did.
type Result struct {
	Found, Skipped, Known int
	Unknown               []collection.Unlisted
	Measured              []record.Photo // what brief leaves of them, in the order of day, plant, name
	Errors                []error        // files that could not be read at all
	Mended                []string       // photos whose stored record was damaged and that were measured again
	Gone                  []string       // photos that are due, but whose originals are not where they were: their numbers stay
	Pending               int            // photos left when the run was stopped
}

// sort puts what was measured in the order of day, plant and name.
func (r *Result) sort() {
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

// brief is what a run keeps of a photo to its end: which it was and how it went. Numbers, outlines and pictures lie in the
// store; of thousands of photos they would fill the supervisor's memory.
func brief(p *record.Photo) record.Photo {
	return record.Photo{SHA256: p.SHA256, Name: p.Name, Path: p.Path, Plant: p.Plant, View: p.View, Taken: p.Taken, Status: p.Status, Reasons: p.Reasons}
}
