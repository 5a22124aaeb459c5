package intake

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// Part is share K of N of a folder of photos, K from 1.
type Part struct{ K, N int }

// ParsePart reads "3/8".
func ParsePart(s string) (p Part, err error) {
	m := regexp.MustCompile(`^(\d{1,6})/(\d{1,6})$`).FindStringSubmatch(s)
	if m != nil {
		p.K, _ = strconv.Atoi(m[1])
		p.N, _ = strconv.Atoi(m[2])
	}
	if p.K < 1 || p.K > p.N {
		return Part{}, &fsx.HintError{What: fmt.Sprintf("%q is not a part", s), Hint: "Write it as 3/8: the third of eight parts."}
	}
	return p, nil
}

// hashDigits of a photo's hash, 60 bits, choose its part: as many as fit a number of 63 bits.
const hashDigits = 15

// Holds says whether a photo belongs to the part: by its content alone, so that every machine divides alike whatever
// files are called and however they are sorted.
func (p Part) Holds(sha256 string) bool {
	v, err := strconv.ParseUint(sha256[:min(hashDigits, len(sha256))], 16, 64)
	return err == nil && int(v%uint64(p.N)) == p.K-1
}

// doneFile is the note that a part has been measured to its end.
func (p Part) doneFile() string { return fmt.Sprintf("part_%d_of_%d.done", p.K, p.N) }

// RunPart measures a part's photos of a folder and leaves a file for each in the results folder. The collection is only
// read, the store is not touched. Results that are there already, made with the same inputs, are not made again; so a
// part that was cut off is taken up by the same command.
func RunPart(ctx context.Context, c *collection.Collection, part Part, results string, o Options) (res Result, err error) {
	if err := os.MkdirAll(results, 0o755); err != nil {
		return res, fsx.Explain(results, err)
	}
	done := filepath.Join(results, part.doneFile())
	if err := os.Remove(done); err != nil && !errors.Is(err, os.ErrNotExist) {
		return res, fsx.Explain(done, err)
	}
	list, err := collection.ListPhotos(o.dir(c))
	if err != nil {
		return res, err
	}
	into := &folderSink{dir: results, seen: map[string][]series.SeenFile{}}
	pl := newPlan(c, o.GivenDate)
	res.Skipped, res.Unknown = list.Skipped, list.Unknown
	if res.Found, err = planPart(ctx, pl, part, list.Photos, into); err != nil {
		return res, err
	}
	res.Known, res.Errors = pl.known, pl.errors
	o.Progress.plan(len(pl.jobs))
	f := &filer{c: c, sink: into, res: &res}
	err = o.Pool.Measure(ctx, pl.largeFirst(), func(out pipeline.Outcome) error {
		if err := f.outcome(ctx, out); err != nil {
			return err
		}
		o.Progress.done(out)
		return nil
	})
	res.Pending = len(pl.jobs) - len(res.Measured) - len(res.Errors)
	if err != nil {
		return res, err
	}
	res.sort()
	note, err := json.Marshal(map[string]int{"photos": res.Found, "errors": len(res.Errors)})
	if err != nil {
		return res, err
	}
	return res, fsx.WriteFileAtomic(done, append(note, '\n'), 0o644)
}

// planPart plans the part's photos, and notes the files of each content; found is how many files are the part's.
func planPart(ctx context.Context, pl *plan, part Part, files []collection.PhotoFile, into *folderSink) (found int, err error) {
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return found, err
		}
		sha, err := collection.HashFile(f.Path)
		if err != nil {
			pl.fault(f.Rel, err)
			continue
		}
		if !part.Holds(sha) {
			continue
		}
		found++
		into.seen[sha] = append(into.seen[sha], series.SeenFile{Path: f.Path, Size: f.Size, MTime: f.ModTime, SHA256: sha})
		var before *record.Photo
		if old, err := readResult(filepath.Join(into.dir, sha+ResultExt)); err == nil && !pl.planned[sha] {
			before = &old.Photo
		}
		pl.file(f, sha, filepath.Base(f.Path), before, false)
	}
	return found, nil
}
