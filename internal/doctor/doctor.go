// Package doctor looks a collection over: files, settings, folders, the store and the archived originals. Examine only
// looks; each finding says what is wrong and, where the program can mend it, what it would do. Repair does that, and
// nothing else. No repair deletes or rewrites anything of the grower's.
package doctor

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// Level says how much a finding matters.
type Level string

// Levels: harm is data lost or at risk; fault is something that is left out until it is mended; note is good to know.
const (
	Harm  Level = "harm"
	Fault Level = "fault"
	Note  Level = "note"
)

// Finding is one thing that was found.
type Finding struct {
	Level  Level
	Where  string // file, or part of the collection
	What   string // what is wrong
	Hint   string // what a person can do
	Repair string // what the program would do, "" where it can do nothing
	mend   func(ctx context.Context) error
}

// Options of an examination.
type Options struct {
	Full bool      // read every archived original and compare its hash, which takes long
	Now  time.Time // for photos from the future; zero takes the clock
	// KeyOf gives the settings key that a photo would have now, to count the photos that are due again; may be nil.
	KeyOf func(p *record.Photo) string
}

// Examine looks a collection over. store may be nil where it could not be opened; storeErr then says why, and both are
// nil for a collection that has none yet. The error is only that of a cancelled context.
func Examine(ctx context.Context, c *collection.Collection, store *series.Store, storeErr error, o Options) ([]Finding, error) {
	if o.Now.IsZero() {
		o.Now = time.Now()
	}
	e := &examiner{c: c, store: store, o: o}
	e.cutOff()
	e.grower()
	e.folders()
	e.leftovers(ctx)
	switch {
	case storeErr != nil:
		e.add(Finding{Level: Harm, Where: collection.StoreFile, What: storeErr.Error(), Hint: fsx.HintOf(storeErr)})
	case store != nil:
		e.stored(ctx)
	}
	return e.found, ctx.Err()
}

type examiner struct {
	c     *collection.Collection
	store *series.Store
	o     Options
	found []Finding
}

func (e *examiner) add(f Finding) { e.found = append(e.found, f) }

// cutOff finds a change of several files that was begun and not ended.
func (e *examiner) cutOff() {
	if what := fsx.Interrupted(e.c.Dir); what != "" {
		e.add(Finding{Level: Fault, Where: fsx.JournalFile, What: what + " was cut off before its end", Hint: "Any other command settles it.", Repair: "finish it, or take it back where a file has been saved since",
			mend: func(context.Context) error { _, _, err := fsx.Recover(e.c.Dir); return err }})
	}
	if err := e.c.CheckStore(); err != nil {
		e.add(Finding{Level: Harm, Where: collection.StoreFile, What: err.Error(), Hint: fsx.HintOf(err)})
	}
}

// grower passes on what is wrong in the grower's files. A missing file can be made again, empty.
func (e *examiner) grower() {
	for _, p := range e.c.Problems {
		level := Fault
		if p.Note {
			level = Note
		}
		f := Finding{Level: level, Where: p.Place(), What: p.What, Hint: p.Hint}
		if _, err := os.Lstat(e.c.Path(filepath.FromSlash(p.File))); os.IsNotExist(err) {
			f.Repair, f.mend = "make "+p.File+" again, without lines", e.remake
		}
		e.add(f)
	}
}

func (e *examiner) remake(context.Context) error {
	_, err := collection.Init(e.c.Dir)
	return err
}

func (e *examiner) folders() {
	for _, name := range []string{collection.InboxDir, collection.PhotosDir, collection.ReportsDir, collection.MarksDir} {
		st, err := os.Stat(e.c.Path(name))
		switch {
		case os.IsNotExist(err):
			e.add(Finding{Level: Note, Where: name + "/", What: "the folder is missing", Repair: "make it", mend: e.remake})
		case err != nil:
			e.add(Finding{Level: Fault, Where: name + "/", What: err.Error(), Hint: fsx.HintOf(fsx.Explain(e.c.Path(name), err))})
		case !st.IsDir():
			e.add(Finding{Level: Fault, Where: name, What: "this is a file where a folder belongs", Hint: "Rename the file, then run phototrack init."})
		}
	}
}

// leftovers finds the unfinished files of runs that were cut off. They are ours by name, and never a grower's.
func (e *examiner) leftovers(ctx context.Context) {
	for _, dir := range []string{"", collection.PhotosDir, collection.ReportsDir, collection.MarksDir, collection.FormerDir} {
		root := e.c.Path(dir)
		filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || ctx.Err() != nil {
				return fs.SkipDir
			}
			if fsx.IsTemp(d.Name()) {
				rel, _ := filepath.Rel(e.c.Dir, path)
				e.add(Finding{Level: Note, Where: filepath.ToSlash(rel), What: "an unfinished file of a run that was cut off", Repair: "remove it",
					mend: func(context.Context) error { return os.RemoveAll(path) }})
			}
			if d.IsDir() && path != root && (dir == "" || fsx.IsTemp(d.Name())) {
				return fs.SkipDir
			}
			return nil
		})
	}
}

// stored looks at the store and at what it says of photos.
func (e *examiner) stored(ctx context.Context) {
	rep, err := e.store.Check(ctx)
	if err != nil {
		rep.Faults = append(rep.Faults, err.Error())
	}
	for _, f := range rep.Faults {
		e.add(Finding{Level: Harm, Where: collection.StoreFile, What: f,
			Hint: "Restore a backup; without one, move the file away and type phototrack run --anew: all photos are measured anew from photos/ and inbox/."})
	}
	e.damaged(rep.Damaged)
	if len(rep.Copied) > 0 {
		e.add(Finding{Level: Harm, Where: collection.StoreFile, What: rep.Copied[0] + more(len(rep.Copied)-1),
			Hint: "Reports and exports do not use this table, only queries by hand do.", Repair: "make the table quantities anew from the records", mend: e.store.RemakeQuantities})
	}
	photos, err := e.store.All(ctx)
	if err != nil {
		if len(rep.Faults) == 0 {
			e.add(Finding{Level: Harm, Where: collection.StoreFile, What: err.Error(), Hint: fsx.HintOf(err)})
		}
		return
	}
	if run, cut, err := e.store.CutOff(ctx); err == nil && cut {
		e.add(Finding{Level: Note, Where: collection.StoreFile, What: "the run that began at " + run.StartedAt + " was cut off", Hint: "Run again: it goes on from there."})
	}
	due := 0
	for i := range photos {
		p := &photos[i]
		if p.Taken.Time.After(e.o.Now.Add(48 * time.Hour)) {
			e.add(Finding{Level: Note, Where: p.Name, What: "the photo is from the future: " + p.Taken.Day(),
				Hint: "Set the camera's clock, and correct the date on the desk page."})
		}
		if e.o.KeyOf != nil && e.o.KeyOf(p) != p.SettingsKey {
			due++
		}
		if e.c.Settings.Run.KeepOriginals && ctx.Err() == nil {
			e.original(ctx, p)
		}
	}
	if due > 0 {
		e.add(Finding{Level: Note, Where: collection.StoreFile, What: fmt.Sprintf("%d photos were measured with other settings, cards, pots or marks than now", due),
			Hint: "The next run measures them anew; the older numbers stay in the history."})
	}
	e.unmatched(photos)
}

// more says how many other faults of the same kind there are.
func more(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("; and %d more of the kind", n)
}

// damaged names what is stored and is not what was written. The next run measures such a photo again.
func (e *examiner) damaged(list []series.Damage) {
	for _, d := range list {
		f := Finding{Level: Harm, Where: d.Name, What: "the stored " + d.What + " of this photo is damaged; it is left out of reports and exports",
			Hint: "Its original is not kept: put the photo into the inbox again."}
		if _, ok := e.c.OriginalOf(d.SHA256); ok || e.seen(d.SHA256) {
			f.Hint, f.Repair = "The original is there.", "have it measured again by the next run"
			f.mend = func(ctx context.Context) error { return e.store.Remeasure(ctx, d) }
		}
		e.add(f)
	}
}

// seen says whether a photo still lies where it was seen.
func (e *examiner) seen(sha string) bool {
	names, err := e.store.Names(context.Background(), sha)
	if err != nil {
		return false
	}
	for _, name := range names {
		if st, err := os.Stat(name); err == nil && st.Mode().IsRegular() {
			return true
		}
	}
	return false
}

// shared says that a kept original and the photo in the inbox are one file: an edit of one would change both.
func (e *examiner) shared(p *record.Photo, path string) {
	a, errA := os.Stat(path)
	b, errB := os.Stat(p.Path)
	if e.c.Settings.Run.LinkOriginals || errA != nil || errB != nil || !os.SameFile(a, b) || samePath(path, p.Path) {
		return
	}
	rel, err := filepath.Rel(e.c.Dir, path)
	if err != nil {
		rel = path
	}
	e.add(Finding{Level: Note, Where: filepath.ToSlash(rel), What: "this kept original and " + p.Path + " are one file: an edit of one changes both",
		Repair: "make it a file of its own", mend: func(context.Context) error { return collection.Unshare(path, p.SHA256) }})
}

func samePath(a, b string) bool {
	x, errX := filepath.EvalSymlinks(a)
	y, errY := filepath.EvalSymlinks(b)
	return errX == nil && errY == nil && x == y
}

// original checks that the archived original of a photo is there and, in a full examination, that it is whole.
func (e *examiner) original(ctx context.Context, p *record.Photo) {
	rel := collection.ArchivePath(p)
	path := e.c.Path(filepath.FromSlash(rel))
	if st, err := os.Stat(path); err == nil && st.Mode().IsRegular() {
		e.shared(p, path)
		if st.Size() == p.Bytes && !e.o.Full {
			return
		}
		if sum, err := collection.HashFile(path); err == nil && sum == p.SHA256 {
			return
		}
		if good := e.neighbour(p); good != "" {
			e.add(Finding{Level: Note, Where: rel, What: "this kept original is damaged; the good one lies beside it: " + good, Hint: "The damaged one can be deleted once you have looked at it."})
			return
		}
		e.missing(ctx, p, Harm, rel, "the kept original is not what was measured: it has been changed or damaged")
		return
	}
	if _, kept := e.c.Original(p); kept {
		return // the date was corrected since it was archived: it lies under its first month
	}
	e.missing(ctx, p, Fault, rel, "the original of a measured photo is not kept")
}

// neighbour finds the good copy that was put beside a damaged one, "" where there is none.
func (e *examiner) neighbour(p *record.Photo) string {
	rel := collection.ArchivePath(p)
	ext := filepath.Ext(rel)
	matches, err := filepath.Glob(globEscape(e.c.Path(filepath.FromSlash(strings.TrimSuffix(rel, ext)))) + " (?)" + globEscape(ext))
	if err != nil {
		return ""
	}
	for _, m := range matches {
		if sum, err := collection.HashFile(m); err == nil && sum == p.SHA256 {
			return filepath.Base(m)
		}
	}
	return ""
}

func globEscape(s string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(s)
}

// missing adds the finding with, where the photo is still at a place it was seen at, the repair.
func (e *examiner) missing(ctx context.Context, p *record.Photo, level Level, rel, what string) {
	f := Finding{Level: level, Where: rel, What: what, Hint: "Put the photo into the inbox again, or fetch it from your own backup."}
	names, err := e.store.Names(ctx, p.SHA256)
	if err != nil {
		names = nil
	}
	for _, src := range append([]string{p.Path}, names...) {
		if !filepath.IsAbs(src) {
			src = e.c.Path(filepath.FromSlash(src))
		}
		if sum, err := collection.HashFile(src); err == nil && sum == p.SHA256 {
			f.Repair = "keep it again from " + src
			f.mend = func(context.Context) error {
				_, err := e.c.Archive(p, src)
				return err
			}
			break
		}
	}
	e.add(f)
}

// unmatched finds corrections and marks of photos that were never measured.
func (e *examiner) unmatched(photos []record.Photo) {
	for _, m := range e.c.Marks {
		if !anyPhoto(photos, func(p *record.Photo) bool { return strings.HasPrefix(p.SHA256, m.SHA256) }) {
			e.add(Finding{Level: Note, Where: m.File, What: "these marks belong to no measured photo", Hint: "Drop the photo into the inbox, or move the file away."})
		}
	}
	for _, k := range e.c.Corrections {
		if k.Photo != "" && !anyPhoto(photos, func(p *record.Photo) bool { return k.About(p.SHA256, p.Name) }) {
			e.add(Finding{Level: Note, Where: fmt.Sprintf("%s line %d", collection.CorrectionsFile, k.Line), What: "this correction is about no measured photo",
				Hint: "Check the photo's name, or drop the photo into the inbox."})
		}
	}
}

func anyPhoto(photos []record.Photo, is func(p *record.Photo) bool) bool {
	for i := range photos {
		if is(&photos[i]) {
			return true
		}
	}
	return false
}

// Result is how one repair went.
type Result struct {
	Finding Finding
	Err     error
}

// Repair mends what can be mended, in order, and says how each went. Hold the collection's lock. A repair that fails
// does not stop the others; a cancelled context does.
func Repair(ctx context.Context, found []Finding) []Result {
	var out []Result
	for _, f := range found {
		if f.mend == nil || ctx.Err() != nil {
			continue
		}
		out = append(out, Result{f, f.mend(ctx)})
	}
	return out
}
