// Package desk serves the local page on which a grower looks at the month, marks photos and corrects what was misread.
//
// New makes a desk for a collection; Handler is its whole HTTP interface; Listen takes a free loopback port. Pages are
// made on the server from html/template; a little plain JavaScript adds zooming, drawing and dropping. Everything is
// embedded in the program: no network is needed.
//
// The grower's files stay the truth. They are looked at on every request and read again when they have changed. The desk
// adds lines to them and changes single lines of a file that is still the one its page showed. Photos are measured by the same worker processes as in a run (package pipeline); the collection's
// lock is held only while something is written.
package desk

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"net"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/publish"
	"phototrack/internal/series"
)

// Options say what a desk works with.
type Options struct {
	Dir     string                                                // the collection's folder
	Version string                                                // of the program
	Pool    func(c *collection.Collection) (pipeline.Pool, error) // how workers are started
}

// Desk is the local page of one collection. Its methods may be called from several goroutines.
type Desk struct {
	opt   Options
	token string // the session's secret: in the cookie and in every form
	key   string // in the address that is printed: whoever opens it gets the cookie

	passes sync.Mutex // guards pass
	pass   map[string]time.Time

	look    sync.Mutex // guards seen
	seen    *snapshot
	writing holder
	job     job
	faces   cache // portraits and thumbnails
	drafts  drafts
	tables  lineTables
	pairs   publish.PairCache // what was measured on pairs of photos

	reporting sync.Mutex // one report is written at a time
}

// New makes a desk. The collection is opened to prove that it is one.
func New(o Options) (*Desk, error) {
	c, err := collection.Open(o.Dir)
	if err != nil {
		return nil, err
	}
	o.Dir = c.Dir
	secret := make([]byte, 20)
	if _, err := rand.Read(secret); err != nil {
		return nil, err
	}
	d := &Desk{opt: o, token: hex.EncodeToString(secret), key: rand.Text()}
	return d, d.upgrade(c)
}

// upgrade lets a store of an older program be brought up to date, which only a writer can do. Where another phototrack
// is writing just now, it does that itself.
func (d *Desk) upgrade(c *collection.Collection) error {
	if _, err := os.Stat(c.StorePath()); err != nil {
		return nil // none yet
	}
	_, err := d.writing.take(c)
	switch {
	case errors.Is(err, fsx.ErrLocked), errors.Is(err, series.ErrReadOnly):
		return nil // looking is possible all the same
	case err != nil:
		return err
	}
	return d.writing.release()
}

// Listen takes the port on the loopback address, a free one where port is 0.
func Listen(port int) (net.Listener, error) {
	l, err := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		return nil, &fsx.HintError{What: "port " + strconv.Itoa(port) + " cannot be used", Hint: "Leave --port away: a free one is taken.", Err: err}
	}
	return l, nil
}

// Address is what is printed for the grower to open: only who knows it gets in. It must not stand in a command line; Pass is
// for that.
func (d *Desk) Address(l net.Listener) string {
	return "http://" + l.Addr().String() + "/?" + keyParam + "=" + d.key
}

// Serve answers requests until ctx ends; work that is under way is stopped in order.
func (d *Desk) Serve(ctx context.Context, l net.Listener) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	d.job.ctx = ctx
	srv := &http.Server{Handler: d.Handler(l.Addr().String()), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10}
	d.warm()
	d.job.busy.Add(1)
	go func() {
		defer d.job.busy.Done()
		d.watch(ctx)
	}()
	stopped := make(chan struct{})
	go func() {
		defer close(stopped)
		<-ctx.Done()
		quiet, done := context.WithTimeout(context.Background(), 3*time.Second)
		defer done()
		if srv.Shutdown(quiet) != nil {
			srv.Close()
		}
	}()
	err := srv.Serve(l)
	cancel()
	<-stopped
	d.job.wait()
	d.Close()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// warm reads ahead in the background.
func (d *Desk) warm() {
	d.job.busy.Add(1)
	go func() {
		defer d.job.busy.Done()
		d.readAhead()
	}()
}

// readAhead reads the collection and analyses the latest month before somebody asks for it: the first page, and the one
// after a change, then come as fast as all others. A page that is asked for meanwhile waits for the same work.
func (d *Desk) readAhead() {
	s, done, err := d.now(context.Background())
	if err != nil {
		return // the page will say it
	}
	defer done()
	s.analysis("") // an error cannot be: the month is one of its own
	s.due()
}

// watchEvery is how often the files are looked at between requests.
const watchEvery = time.Second

// restFactor times as long as it took to read ahead is waited before the files are looked at again.
const restFactor = 10

// watch looks at the files now and then and reads ahead when they have changed, so that the page is ready when the grower
// comes back from the spreadsheet. It rests at least ten times as long as it worked, and while this desk measures, which
// changes the store with every photo.
func (d *Desk) watch(ctx context.Context) {
	wait := watchEvery
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		start := time.Now()
		if d.job.state().Running {
			continue
		}
		state := d.state()
		d.look.Lock()
		changed := d.seen != nil && d.stale(state)
		d.look.Unlock()
		if changed {
			d.readAhead()
		}
		wait = max(watchEvery, restFactor*time.Since(start))
	}
}

// Close gives up what the desk holds open.
func (d *Desk) Close() {
	d.look.Lock()
	defer d.look.Unlock()
	if d.seen != nil {
		d.seen.close()
		d.seen = nil
	}
}

// Handler is the desk's HTTP interface for the address host:port that it is reached at.
func (d *Desk) Handler(host string) http.Handler {
	mux := http.NewServeMux()
	page := func(pattern string, f func(http.ResponseWriter, *http.Request) error) {
		answer := d.answer(f)
		serve := answer
		if strings.HasPrefix(pattern, http.MethodPost) {
			serve = func(w http.ResponseWriter, r *http.Request) {
				answer(w, r)
				d.warm()
			}
		}
		mux.HandleFunc(pattern, serve)
	}
	mux.HandleFunc("GET "+PassPath, d.givePass)
	page("GET /{$}", d.reading(d.glancePage))
	page("GET /plant/{plant}", d.reading(d.plantPage))
	page("GET /photo/{sha}", d.reading(d.photoPage))
	page("GET /unsorted", d.reading(d.unsortedPage))
	page("GET /add", d.reading(d.addPage))
	page("GET /notes", d.reading(d.notesPage))
	page("GET /plates", d.reading(d.platesPage))
	page("GET /compare", d.reading(d.comparePage))
	page("GET /corrections", d.reading(d.correctionsPage))
	page("GET /start", d.reading(d.startPage))
	page("GET /reports", d.reading(d.reportsPage))
	page("POST /reports", d.reading(d.writeReport))
	page("GET /report/{file...}", d.reportFile)
	page("GET /photos/{file...}", d.reading(d.reportLink))
	page("GET /table/{name}", d.reading(d.table))
	page("GET /round/{file}", d.reading(d.round))
	page("GET /print", d.reading(d.printPage))
	page("POST /print", d.addCard)
	page("GET /rules", d.reading(d.rulesPage))
	page("POST /rules", d.reading(d.saveRule))
	page("POST /rules/switch", d.reading(d.switchRule))
	page("POST /photo/{sha}/dismiss", d.about(d.dismiss))
	page("GET /print/{file}", d.print)
	page("GET /progress", d.progress)
	page("GET /picture/{sha}/{kind}", d.about(d.picture))
	page("GET /pair/{then}/{now}/{which}", d.reading(d.pair))
	page("GET /draft/{id}", d.draft)
	page("GET /asset/{name}", d.asset)
	page("POST /photo/{sha}/marks", d.about(d.saveMarks))
	page("POST /photo/{sha}/copy-marks", d.about(d.copyMarks))
	page("GET /photo/{sha}/parts", d.about(d.partsOf))
	page("POST /photo/{sha}/line", d.about(d.tryLine))
	page("POST /photo/{sha}/lines", d.about(d.saveDrawnLines))
	page("POST /photo/{sha}/part", d.about(d.addPart))
	page("POST /photo/{sha}/part-gone", d.about(d.partGone))
	page("POST /photo/{sha}/count", d.about(d.setCount))
	page("POST /photo/{sha}/correct", d.about(d.correct))
	page("POST /corrections/undo", d.reading(d.undoCorrection))
	page("POST /upload", d.upload)
	page("POST /measure", d.measureDue)
	page("POST /events", d.reading(d.addEvent))
	page("GET /events/edit", d.reading(d.editEvents))
	page("POST /events/edit", d.reading(d.saveEvents))
	page("POST /plants", d.addPlant)
	page("GET /plants/edit", d.reading(d.editPlants))
	page("POST /plants/edit", d.reading(d.savePlants))
	page("GET /parts/edit", d.reading(d.editPart))
	page("POST /parts/edit", d.reading(d.savePart))
	page("POST /counts", d.reading(d.saveCount))
	page("POST /answer", d.answerRule)
	page("POST /plates", d.reading(d.composePlate))
	page("GET /", func(http.ResponseWriter, *http.Request) error { return notFound("there is no such page") })
	return d.guard(host, mux)
}
