package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/fnv"
	"maps"
	"net/http"
	"os"
	"slices"
	"sort"
	"sync"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/digest"
	"phototrack/internal/gate"
	"phototrack/internal/intake"
	"phototrack/internal/publish"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// snapshot is the collection as it was read at one moment: files, photos, and the analysis of each month that was
// asked for. It is never changed; a newer state of the disk gives a new one.
type snapshot struct {
	state  diskState
	words  string    // what the grower's files say, as a hash; "" where they changed while they were read
	at     time.Time // when it was read
	c      *collection.Collection
	st     *series.Store // nil while nothing has been measured
	photos []record.Photo
	bySHA  map[string]*record.Photo
	months []string // with a photo, YYYY-MM, latest first

	sorted sync.Once
	views  map[viewOf][]*record.Photo // by time

	comparing sync.Once
	comparer  *change.Comparer

	due func() int // photos whose pot, settings, areas or corrections have changed since they were measured; found out once

	mu     sync.Mutex
	byTime map[string]*month
	pairs  *publish.PairCache
	users  int
	gone   bool
}

// now gives the collection as it is on disk; done must be called when the page is made.
func (d *Desk) now(ctx context.Context) (s *snapshot, done func(), err error) {
	d.look.Lock()
	defer d.look.Unlock()
	if state := d.state(); d.stale(state) {
		fresh, err := read(ctx, d.opt.Dir, state, d.seen, &d.pairs)
		if err != nil {
			return nil, nil, err
		}
		if d.seen != nil {
			d.seen.close()
		}
		d.seen = fresh
	}
	s = d.seen
	s.mu.Lock()
	s.users++
	s.mu.Unlock()
	return s, s.leave, nil
}

// reading gives a page the collection as it is on disk, for as long as the page is made.
func (d *Desk) reading(f func(w http.ResponseWriter, r *http.Request, s *snapshot) error) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		s, done, err := d.now(r.Context())
		if err != nil {
			return err
		}
		defer done()
		return f(w, r, s)
	}
}

// about is reading for a page about the photo that its address names.
func (d *Desk) about(f func(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error) func(http.ResponseWriter, *http.Request) error {
	return d.reading(func(w http.ResponseWriter, r *http.Request, s *snapshot) error {
		p, err := s.photo(r.PathValue("sha"))
		if err != nil {
			return err
		}
		return f(w, r, s, p)
	})
}

// diskState sums up size and time of change of everything a page rests on: the grower's files and marks, and the store
// with its log; and how often this process has changed them, since a change can come to light a little after the file's
// time of change (a log is written first and made valid after), or two fall into one tick of the file system's clock.
type diskState struct {
	files, store     uint64
	edited, stored   uint64
	filesAt, storeAt time.Time // the latest time of change
}

// unsettled is how long after a file's latest change its state is not to be trusted: others may still be writing.
const unsettled = 2 * time.Second

// stale says whether what was read is not, or may not be, what the disk holds now. What was read while others may still
// have been writing is read once more when they have had their time.
func (d *Desk) stale(now diskState) bool {
	if d.seen == nil || d.seen.state != now {
		return true
	}
	return time.Since(d.seen.at) > unsettled && !(d.seen.settled(now.filesAt) && d.seen.settled(now.storeAt))
}

// state looks at the disk. This process's own changes are counted after they are made and read here before the files are.
func (d *Desk) state() diskState {
	s := diskState{edited: d.writing.edited.Load(), stored: d.writing.stored.Load()}
	c := collection.Collection{Dir: d.opt.Dir}
	sum := func(latest *time.Time, names ...string) uint64 {
		h := fnv.New64a()
		for _, name := range names {
			if st, err := os.Stat(c.Path(name)); err == nil && (st.Size() > 0 || name != collection.StoreFile+"-wal") {
				fmt.Fprintln(h, name, st.Size(), st.ModTime().UnixNano())
				if st.ModTime().After(*latest) {
					*latest = st.ModTime()
				}
			}
		}
		return h.Sum64()
	}
	files := append(growersFiles(&c), collection.MarksDir)
	s.files, s.store = sum(&s.filesAt, files...), sum(&s.storeAt, collection.StoreFile, collection.StoreFile+"-wal")
	return s
}

// growersFiles are the files that the grower writes, marks among them.
func growersFiles(c *collection.Collection) []string {
	files := []string{collection.PlantsFile, collection.EventsFile, collection.WatchFile, collection.CardsFile, collection.CorrectionsFile,
		collection.SettingsFile, collection.PartsFile, collection.CountsFile}
	if marks, err := os.ReadDir(c.Path(collection.MarksDir)); err == nil {
		for _, e := range marks {
			files = append(files, collection.MarksDir+"/"+e.Name())
		}
	}
	return files
}

// wordsIn is a hash of the grower's files, to the letter.
func wordsIn(c *collection.Collection) string {
	h := sha256.New()
	for _, name := range growersFiles(c) {
		data, err := os.ReadFile(c.Path(name))
		fmt.Fprintln(h, name, len(data), err == nil)
		h.Write(data)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// contents settles words: all but the store that an analysis rests on, which are the grower's files, as they were before they
// were read and are still, and which refused photos have been deleted.
func (s *snapshot) contents(before string) {
	if s.words = wordsIn(s.c); s.words != before {
		s.words = ""
		return
	}
	for i := range s.photos {
		if p := &s.photos[i]; publish.Withdrawn(p) {
			s.words += " " + p.SHA256
		}
	}
}

// keep takes over what was found out of the same photos and files before: a file that was saved without a change, or one
// that is looked at once more to be sure, costs no second analysis.
func (s *snapshot) keep(before *snapshot) {
	if s.words == "" || s.words != before.words {
		return
	}
	before.mu.Lock()
	defer before.mu.Unlock()
	s.byTime = maps.Clone(before.byTime)
}

// read reads the collection. The photos of the snapshot before, if there is one, are taken over where the store has not
// changed: reading them all is what takes longest.
func read(ctx context.Context, dir string, state diskState, before *snapshot, pairs *publish.PairCache) (*snapshot, error) {
	words := wordsIn(&collection.Collection{Dir: dir})
	c, err := collection.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &snapshot{state: state, at: time.Now(), c: c, bySHA: map[string]*record.Photo{}, byTime: map[string]*month{}, pairs: pairs}
	s.due = sync.OnceValue(func() int { return len(intake.Due(s.c, s.photos)) })
	if err := c.CheckStore(); err != nil {
		return nil, err
	}
	if _, err := os.Stat(c.StorePath()); errors.Is(err, os.ErrNotExist) {
		return s, nil
	}
	if s.st, err = series.OpenReader(c.StorePath()); err != nil {
		return nil, err
	}
	if before != nil && before.st != nil && before.state.store == state.store && before.state.stored == state.stored && before.settled(before.state.storeAt) {
		s.photos, s.bySHA, s.months = before.photos, before.bySHA, before.months
		s.contents(words)
		s.keep(before)
		return s, nil
	}
	if s.photos, err = s.st.All(context.WithoutCancel(ctx)); err != nil {
		s.st.Close()
		return nil, err
	}
	s.contents(words)
	seen := map[string]bool{}
	for i := range s.photos {
		p := &s.photos[i]
		s.bySHA[p.SHA256] = p
		if d := p.Taken.Day(); d != "" && !seen[d[:7]] && !gate.DateInDoubt(p) {
			seen[d[:7]] = true
			s.months = append(s.months, d[:7])
		}
	}
	sort.Sort(sort.Reverse(sort.StringSlice(s.months)))
	return s, nil
}

// settled says that what was changed last at the time given was not changed shortly before the snapshot was read. A time
// that lies in the future, by another computer's clock, says nothing.
func (s *snapshot) settled(last time.Time) bool {
	age := s.at.Sub(last)
	return age < 0 || age >= unsettled
}

func (s *snapshot) leave() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.users--
	s.closeUnused()
}

// close gives up the store as soon as the last page that reads it is made.
func (s *snapshot) close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.gone = true
	s.closeUnused()
}

func (s *snapshot) closeUnused() {
	if s.gone && s.users == 0 && s.st != nil {
		s.st.Close()
		s.st = nil
	}
}

// month is what is said of one month.
type month struct {
	an     change.Analysis
	digest digest.Digest
	series map[seriesKey][]record.Session
}

// analysis says what changed in a month, YYYY-MM, the latest one where it is empty.
func (s *snapshot) analysis(name string) (*change.Analysis, string, error) {
	m, name, err := s.month(name)
	if err != nil {
		return nil, "", err
	}
	return &m.an, name, nil
}

// month makes the analysis and the digest of a month, once: the same that its report is made from.
func (s *snapshot) month(name string) (*month, string, error) {
	if name == "" && len(s.months) > 0 {
		name = s.months[0]
	}
	if name == "" {
		name = time.Now().Format("2006-01")
	}
	from, to, err := change.Month(name)
	if err != nil {
		return nil, "", bad(400, "that is not a month", "Choose one from the list.")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if m := s.byTime[name]; m != nil {
		return m, name, nil
	}
	var pairs []record.Change
	if s.st != nil {
		pairs = s.pairs.Between(context.Background(), publish.Source{Collection: s.c, Store: s.st, Photos: s.photos}, from, to)
	}
	m := &month{an: publish.Analyze(s.c, s.photos, pairs, from, to)}
	m.digest = digest.Make(digest.Input{Analysis: m.an, Plants: s.c.Plants, Photos: s.photos, Parts: s.c.Parts})
	m.series = sessionsByKey(&m.an)
	s.byTime[name] = m
	return m, name, nil
}

// photo finds a photo by its content hash.
func (s *snapshot) photo(sha string) (*record.Photo, error) {
	p := s.bySHA[sha]
	if p == nil {
		return nil, notFound("there is no such photo")
	}
	return p, nil
}

// whole gives a photo with its outlines.
func (s *snapshot) whole(ctx context.Context, sha string) (*record.Photo, error) {
	if _, err := s.photo(sha); err != nil {
		return nil, err
	}
	p, ok, err := s.st.Get(ctx, sha)
	if err == nil && !ok {
		err = notFound("there is no such photo")
	}
	return &p, err
}

// viewOf names one view of one plant.
type viewOf struct {
	plant int
	view  record.View
}

// of gives a plant's photos of one view, by time.
func (s *snapshot) of(plant int, view record.View) []*record.Photo {
	s.sorted.Do(func() {
		s.views = map[viewOf][]*record.Photo{}
		for i := range s.photos {
			p := &s.photos[i]
			s.views[viewOf{p.Plant, p.View}] = append(s.views[viewOf{p.Plant, p.View}], p)
		}
		for _, list := range s.views {
			sort.SliceStable(list, func(i, j int) bool { return list[i].Taken.Time.Before(list[j].Taken.Time) })
		}
	})
	return slices.Clone(s.views[viewOf{plant, view}])
}

// counted gives those that count, up to a day.
func (s *snapshot) counted(plant int, view record.View, to string) (out []*record.Photo) {
	for _, p := range s.of(plant, view) {
		if d := p.Taken.Day(); d != "" && (to == "" || d <= to) && gate.Counts(p.Status, p.Reasons) {
			out = append(out, p)
		}
	}
	return out
}

// between compares two days of a plant's view, with the noise that the whole collection shows.
func (s *snapshot) between(plant int, view record.View, from, to string) []record.Change {
	s.comparing.Do(func() { s.comparer = publish.Comparer(s.c, s.photos) })
	return s.comparer.Between(plant, view, from, to)
}
