package intake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// MergeResult is what a merge did.
type MergeResult struct {
	Result
	Stale   []string // photos whose result was made with other settings, corrections, marks or another version
	NotKept int      // originals that do not lie where the part found them, so that none was put by
	Missing []Part   // parts that have not been measured to their end
}

// Merge brings the results of parts into the store: what one run would have stored. The order of the parts makes no
// difference, nor does bringing one in twice; a part that is missing can be brought in later. The caller holds the
// collection's lock.
func Merge(ctx context.Context, c *collection.Collection, st *series.Store, dir string) (MergeResult, error) {
	var res MergeResult
	if s, err := os.Stat(dir); err != nil {
		return res, fsx.Explain(dir, err)
	} else if !s.IsDir() {
		return res, &fsx.HintError{What: dir + " is not a folder", Hint: "Name the folder that was given to the parts as --results."}
	}
	files, err := filepath.Glob(filepath.Join(escapeGlob(dir), "*"+ResultExt))
	if err != nil {
		return res, err
	}
	sort.Strings(files)
	res.Found, res.Missing = len(files), missingParts(dir)
	stored, err := st.All(ctx)
	if err != nil {
		return res, err
	}
	m := merger{c: c, st: st, stored: map[string]*record.Photo{}, res: &res}
	for i := range stored {
		m.stored[stored[i].SHA256] = &stored[i]
	}
	run := series.Run{Found: res.Found, Outcome: "merged"}
	if len(files) > 0 {
		if run.ID, err = st.BeginRun(ctx, pipeline.MeasuringVersion); err != nil {
			return res, err
		}
	}
	into := &storeSink{c: c, st: st, run: &run}
	m.filer = filer{c: c, sink: into, res: &res.Result}
	for i, f := range files {
		if err = ctx.Err(); err == nil {
			err = m.one(ctx, f)
		}
		if err != nil {
			res.Pending = len(files) - i
			break
		}
	}
	err = into.end(ctx, &res.Result, err)
	return res, err
}

// merger brings results into the store, one after another.
type merger struct {
	c      *collection.Collection
	st     *series.Store
	stored map[string]*record.Photo // by hash
	filer  filer
	res    *MergeResult
}

func (m *merger) one(ctx context.Context, file string) error {
	r, err := readResult(file)
	if err != nil {
		m.res.Errors = append(m.res.Errors, err)
		return nil
	}
	p := &r.Photo
	old, known := m.stored[p.SHA256]
	if known {
		p.Name = old.Name // a photo keeps the name under which it came first
	}
	if p.SettingsKey != m.c.InputsKey(pipeline.MeasuringVersion, p) {
		m.res.Stale = append(m.res.Stale, p.Name)
		return nil
	}
	if known && old.SettingsKey == p.SettingsKey && (!pipeline.TryAgain(old) || pipeline.Attempts(p) > 0) && !(old.Taken.IsZero() && !p.Taken.IsZero()) {
		m.res.Known++
		if err := keepLate(m.c, p); err != nil {
			return err
		}
	} else if filed, err := m.filer.photo(ctx, p); err != nil || !filed {
		return err
	}
	if m.c.Settings.Run.KeepOriginals {
		if _, ok := m.c.Original(p); !ok {
			m.res.NotKept++
		}
	}
	return m.st.NoteSeen(ctx, r.Seen...)
}

// keepLate puts the original of a photo by that was brought in before, while its folder was out of reach.
func keepLate(c *collection.Collection, p *record.Photo) error {
	if _, ok := c.Original(p); ok || !c.Settings.Run.KeepOriginals || !readable(p.Path) {
		return nil
	}
	if _, err := c.Archive(p, p.Path); err != nil && !errors.Is(err, collection.ErrChanged) && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// mostParts bounds what a note's name is believed to say.
const mostParts = 1_000_000

// missingParts finds the parts that the finished ones speak of and that are not finished themselves.
func missingParts(dir string) (out []Part) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	have := map[Part]bool{}
	counts := map[int]bool{}
	for _, e := range entries {
		var p Part
		if n, err := fmt.Sscanf(e.Name(), "part_%d_of_%d.done", &p.K, &p.N); err == nil && n == 2 && p.doneFile() == e.Name() && p.N <= mostParts {
			have[p], counts[p.N] = true, true
		}
	}
	var ns []int
	for n := range counts {
		ns = append(ns, n)
	}
	sort.Ints(ns)
	for _, n := range ns {
		for k := 1; k <= n; k++ {
			if p := (Part{k, n}); !have[p] {
				out = append(out, p)
			}
		}
	}
	return out
}

// escapeGlob makes a path match itself alone.
func escapeGlob(path string) string {
	var b []byte
	for i := range len(path) {
		if path[i] == '*' || path[i] == '?' || path[i] == '[' || path[i] == '\\' {
			b = append(b, '\\')
		}
		b = append(b, path[i])
	}
	return string(b)
}
