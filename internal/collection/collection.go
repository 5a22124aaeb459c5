package collection

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"sync"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

// Names of the program's own parts of a collection.
const (
	StoreFile  = "phototrack.db"
	LockFile   = "phototrack.lock"
	InboxDir   = "inbox"
	PhotosDir  = "photos"
	ReportsDir = "reports"
	MarksDir   = "marks"
	FormerDir  = "former" // the grower's files as they were before each edit of a line
)

// ErrNoCollection says that a folder is not a collection.
var ErrNoCollection = errors.New("not a collection")

// ErrNotEmpty says that a folder holds other things, so no collection is made in it.
var ErrNotEmpty = errors.New("the folder is not empty")

// Collection is a grower's folder as it was read by Open. Faulty lines are left out and named in Problems.
type Collection struct {
	Dir         string // absolute
	Settings    Settings
	Plants      []record.Plant     // in the file's order
	Events      []record.Event     // by day, then plant; one for each plant
	EventLines  []EventLine        // in the file's order; one for each line
	Rules       []record.WatchRule // in the file's order
	Cards       []CardRecord       // by date
	Parts       []record.Part      // in the file's order
	Counts      []record.Count     // by day, then plant
	Corrections []Correction       // in the file's order, which is the order they were made in
	Marks       []PhotoMarks       // by file name
	Problems    []LineError        // by file and line
	Settled     []string           // what was found cut off when the collection was opened, and what became of it

	refs  refIndex  // of Corrections
	cache *sync.Map // see Cached

	plantLines map[int]int // number -> line of plants.csv

	versions map[string]string // of the files as they were read, see Version
	trial    map[string][]byte // files that are read from here in place of the disk
}

// Open reads the collection in dir. The only errors are a folder that is missing, unreadable or no collection
// (ErrNoCollection); faults within its files are Problems. A change of files that was cut off is settled first.
func Open(dir string) (*Collection, error) {
	c, err := Find(dir)
	if err != nil {
		return nil, err
	}
	if fsx.Interrupted(c.Dir) != "" {
		c.settle()
	}
	return c, c.Reload()
}

// OpenAsIs is Open that leaves everything as it lies: a change of files that was cut off stays so.
func OpenAsIs(dir string) (*Collection, error) {
	c, err := Find(dir)
	if err != nil {
		return nil, err
	}
	return c, c.Reload()
}

// OpenToWrite takes the right to write in the collection in dir and reads it then, so that nothing can have changed in
// between. Close the lock to give the right up.
func OpenToWrite(dir string) (*Collection, *fsx.Lock, error) {
	c, err := Find(dir)
	if err != nil {
		return nil, nil, err
	}
	lock, err := c.Lock()
	if err != nil {
		return nil, nil, err
	}
	return c, lock, c.Reload()
}

// Find looks whether dir is a collection and reads nothing; Reload does.
func Find(dir string) (*Collection, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	st, err := os.Stat(abs)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, &fsx.HintError{What: fmt.Sprintf("there is no folder %s", abs), Hint: "Check the name, or make a collection there with: phototrack init " + dir, Err: ErrNoCollection}
	case err != nil:
		return nil, fsx.Explain(abs, err)
	case !st.IsDir():
		return nil, &fsx.HintError{What: fmt.Sprintf("%s is a file, not a folder", abs), Hint: "Name the collection's folder.", Err: ErrNoCollection}
	case !IsCollection(abs):
		return nil, &fsx.HintError{What: fmt.Sprintf("%s holds no collection", abs),
			Hint: "Make one with: phototrack init DIR, or name yours with --collection DIR.", Err: ErrNoCollection}
	}
	return &Collection{Dir: abs}, nil
}

// Reload reads all files again.
func (c *Collection) Reload() error {
	*c = Collection{Dir: c.Dir, Settled: c.Settled}
	c.readFiles()
	return nil
}

func (c *Collection) readFiles() {
	c.cache, c.versions = &sync.Map{}, map[string]string{}
	c.readSettings()
	c.readPlants()
	c.readEvents()
	c.readParts()
	c.readCounts()
	c.readWatch()
	c.readCards()
	c.readCorrections()
	c.readMarks()
	sortProblems(c.Problems)
}

// Cached gives what derive makes of the collection's files, made once under the key and kept until Reload. What it gives
// must follow from the files and the key alone.
func (c *Collection) Cached(key string, derive func() any) any {
	if c.cache == nil {
		return derive()
	}
	if v, ok := c.cache.Load(key); ok {
		return v
	}
	v, _ := c.cache.LoadOrStore(key, derive())
	return v
}

// IsCollection says whether a folder looks like a collection: it has one of the files that only a collection has.
func IsCollection(dir string) bool {
	for _, name := range []string{PlantsFile, SettingsFile, StoreFile, StoreMark, fsx.JournalFile} {
		if st, err := os.Stat(filepath.Join(dir, name)); err == nil && st.Mode().IsRegular() {
			return true
		}
	}
	return false
}

// Path joins names to the collection's folder.
func (c *Collection) Path(names ...string) string {
	return filepath.Join(append([]string{c.Dir}, names...)...)
}

// Inbox is the folder that photos are dropped into.
func (c *Collection) Inbox() string { return c.Path(InboxDir) }

// StorePath is the file of the embedded store.
func (c *Collection) StorePath() string { return c.Path(StoreFile) }

// ReportDir is the folder of a month's report, YYYY-MM.
func (c *Collection) ReportDir(month string) string { return c.Path(ReportsDir, month) }

// Lock takes the right to write in the collection; a second writer gets an error that wraps fsx.ErrLocked and names
// the first. Readers need no lock. Close the lock, or end the process, to give it up. What a writer that was cut off has
// left is settled and cleared away; c is read again where that changed a file.
func (c *Collection) Lock() (*fsx.Lock, error) {
	lock, err := fsx.AcquireLock(c.Path(LockFile))
	if err != nil {
		return nil, err
	}
	what, finished, err := fsx.Recover(c.Dir)
	if err != nil {
		lock.Close()
		return nil, err
	}
	c.sweep()
	if what == "" {
		return lock, nil
	}
	c.Settled = append(c.Settled, settledSentence(what, finished))
	if c.cache != nil { // it has been read before
		err = c.Reload()
	}
	return lock, err
}

// Workers is the number of photos to measure at once.
func (c *Collection) Workers() int {
	if c.Settings.Run.Workers > 0 {
		return c.Settings.Run.Workers
	}
	return DefaultWorkers()
}

// DefaultWorkers is one worker a processor.
func DefaultWorkers() int { return runtime.NumCPU() }

// Init makes a collection in dir and gives the names that it made. Nothing that is there is ever changed: in a folder
// that is a collection already only what is missing is made; a folder that holds other things is refused
// (ErrNotEmpty).
func Init(dir string) (made []string, err error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(abs, 0o755); err != nil {
		return nil, fsx.Explain(abs, err)
	}
	if other, err := foreignEntry(abs); err != nil {
		return nil, err
	} else if other != "" && !IsCollection(abs) {
		return nil, &fsx.HintError{What: fmt.Sprintf("%s holds other things already (such as %s)", abs, clip(other)),
			Hint: "Choose a new folder for the collection; photos are dropped into its inbox later.", Err: ErrNotEmpty}
	}
	for _, name := range []string{InboxDir, PhotosDir, ReportsDir, MarksDir} {
		switch err := os.Mkdir(filepath.Join(abs, name), 0o755); {
		case err == nil:
			made = append(made, name+"/")
		case !errors.Is(err, os.ErrExist):
			return made, fsx.Explain(filepath.Join(abs, name), err)
		}
	}
	files := shippedFiles()
	names := make([]string, 0, len(files))
	for name := range files {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		wrote, err := writeIfMissing(filepath.Join(abs, name), files[name])
		if err != nil {
			return made, err
		}
		if wrote {
			made = append(made, name)
		}
	}
	return made, nil
}

func writeIfMissing(path, text string) (wrote bool, err error) {
	if _, err := os.Lstat(path); err == nil {
		return false, nil
	}
	return true, fsx.WriteFileAtomic(path, []byte(text), 0o644)
}

// foreignEntry names something in a folder that is no part of a collection; hidden files and a system's own clutter
// do not count.
func foreignEntry(dir string) (string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return "", fsx.Explain(dir, err)
	}
	own := map[string]bool{InboxDir: true, PhotosDir: true, ReportsDir: true, MarksDir: true, FormerDir: true, LockFile: true}
	for name := range shippedFiles() {
		own[name] = true
	}
	for _, e := range entries {
		if n := e.Name(); !own[n] && !strings.HasPrefix(n, ".") && !isClutter(n) {
			return n, nil
		}
	}
	return "", nil
}

// shippedFiles are the files of a new collection.
func shippedFiles() map[string]string {
	head := func(columns []string) string { return strings.Join(columns, ",") + "\n" }
	return map[string]string{
		PlantsFile:      head(plantColumns) + examplePlant,
		EventsFile:      head(eventColumns) + exampleEvent,
		WatchFile:       head(watchColumns) + exampleRules,
		PartsFile:       head(partColumns),
		CountsFile:      head(countColumns),
		CardsFile:       head(cardColumns) + exampleCard,
		CorrectionsFile: head(correctionColumns),
		SettingsFile:    SettingsText(),
	}
}

// Lines that begin with a number sign and a blank are not read: they show how a line is written.
const (
	examplePlant = "# 12,Clivia A,clivia,,,,2026-03-01,,an example of a line; lines that begin like this one are not read\n"
	exampleEvent = "# 2026-04-18,12,repot,an example: fresh mix and one size up,,,\n"
	exampleCard  = "# 2026-03-01,99.4,89.6,nominal,an example: what a steel rule said of the print\n"
)

// exampleRules are common practice among growers; they are meant to be edited. The first is for plants that are rested dry
// only, so it is off until the grower names them.
const exampleRules = `root_longest,value,>=,75,the longest visible root has reached 75 mm; growers resume watering a plant rested dry at about this length (common practice): see your watering plan,none,
purple_share,change,>=,detectable,purple has spread by more than can be noise: look at light and cold,,
yellow_share,value,>=,0.10,a tenth of the leaf area is yellow: look at the lower leaves,,
`
