package pipeline

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

// Holds says whether a photo belongs to the part: by its content alone, so that every machine divides alike whatever
// files are called and however they are sorted.
func (p Part) Holds(sha256 string) bool {
	v, err := strconv.ParseUint(sha256[:min(15, len(sha256))], 16, 64)
	return err == nil && int(v%uint64(p.N)) == p.K-1
}

// doneFile is the note that a part has been measured to its end.
func (p Part) doneFile() string { return fmt.Sprintf("part_%d_of_%d.done", p.K, p.N) }

// RunPart measures a part's photos of a folder and leaves a file for each in the results folder. The collection is only
// read, the store is not touched. Results that are there already, made with the same inputs, are not made again; so a
// part that was cut off is taken up by the same command.
func RunPart(ctx context.Context, c *collection.Collection, part Part, results string, o RunOptions) (RunResult, error) {
	var res RunResult
	dir := o.Dir
	if dir == "" {
		dir = c.Inbox()
	}
	if err := os.MkdirAll(results, 0o755); err != nil {
		return res, fsx.Explain(results, err)
	}
	done := filepath.Join(results, part.doneFile())
	if err := os.Remove(done); err != nil && !errors.Is(err, os.ErrNotExist) {
		return res, fsx.Explain(done, err)
	}
	list, err := collection.ListPhotos(dir)
	if err != nil {
		return res, err
	}
	res.Skipped, res.Unknown = list.Skipped, list.Unknown
	jobs, seen, err := planPart(ctx, c, part, results, list.Photos, o, &res)
	if err != nil {
		return res, err
	}
	if o.Progress.Plan != nil {
		o.Progress.Plan(len(jobs))
	}
	err = o.Pool.Measure(ctx, jobs, func(out Outcome) error {
		if out.Err != nil {
			res.Errors = append(res.Errors, fmt.Errorf("%s: %w", out.Job.Name, out.Err))
		} else if err := leaveResult(c, results, out.Photo, seen, &res); err != nil {
			return err
		}
		if o.Progress.Done != nil {
			out.Photo.Pictures = nil
			o.Progress.Done(out)
		}
		return nil
	})
	res.Pending = len(jobs) - len(res.Measured) - len(res.Errors)
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

func leaveResult(c *collection.Collection, results string, p record.Photo, seen map[string][]series.SeenFile, res *RunResult) error {
	files, ok := seen[p.SHA256]
	if !ok { // the file was replaced since it was listed
		res.Errors = append(res.Errors, fmt.Errorf("%s: %w", p.Name, collection.ErrChanged))
		return nil
	}
	if p.SettingsKey == "" {
		p.SettingsKey = c.InputsKey(MeasuringVersion, &p)
	}
	if err := writeResult(results, result{Photo: p, Seen: files}); err != nil {
		return err
	}
	res.Measured = append(res.Measured, brief(&p))
	return nil
}

// planPart lists the part's jobs, and the files of each content.
func planPart(ctx context.Context, c *collection.Collection, part Part, results string, files []collection.PhotoFile, o RunOptions, res *RunResult) ([]Job, map[string][]series.SeenFile, error) {
	seen := map[string][]series.SeenFile{}
	var jobs []Job
	var sizes []int64
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		sha, err := collection.HashFile(f.Path)
		if err != nil {
			res.Errors = append(res.Errors, fmt.Errorf("%s: %w", f.Rel, err))
			continue
		}
		if !part.Holds(sha) {
			continue
		}
		res.Found++
		again := len(seen[sha]) > 0
		seen[sha] = append(seen[sha], series.SeenFile{Path: f.Path, Size: f.Size, MTime: f.ModTime, SHA256: sha})
		if again {
			res.Known++
			continue
		}
		job := Job{Path: f.Path, Rel: f.Rel, Name: filepath.Base(f.Path), GivenDate: o.GivenDate, Pictures: true, Today: today()}
		if old, err := readResult(filepath.Join(results, sha+ResultExt)); err == nil {
			dated := old.Photo.Taken.IsZero() && !o.GivenDate.IsZero()
			if old.Photo.SettingsKey == c.InputsKey(MeasuringVersion, &old.Photo) && !tryAgain(&old.Photo) && !redate(c, &old.Photo) && !dated {
				res.Known++
				continue
			}
			job.Attempts = attempts(&old.Photo)
		}
		jobs, sizes = append(jobs, job), append(sizes, f.Size)
	}
	return largeFirst(jobs, sizes), seen, nil
}
