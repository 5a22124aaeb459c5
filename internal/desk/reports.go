package desk

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"mime"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/publish"
	"phototrack/internal/report"
)

// reportState says how the written report of a month stands to the data.
type reportState struct {
	Month   string
	Written bool
	Old     bool // what it was made from has changed since
}

// reportOf finds out whether the report of a month is written, and whether the data have changed since.
func (d *Desk) reportOf(s *snapshot, month string) reportState {
	r := reportState{Month: month}
	if _, err := os.Stat(filepath.Join(s.c.ReportDir(month), report.IndexFile)); err != nil || month == "" {
		return r
	}
	r.Written = true
	r.Old = !publish.Fresh(s.c, s.photos, month, d.opt.Version)
	return r
}

// reportsBody is the page of all reports and tables.
type reportsBody struct {
	Months []reportState
	Tables []report.Resource
}

// reportsPage lists the months with their reports, and the tables.
func (d *Desk) reportsPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b := reportsBody{Tables: report.Dictionary(s.name(), s.at).Resources}
	for _, m := range s.months {
		b.Months = append(b.Months, d.reportOf(s, m))
	}
	return d.show(w, r, s, sheet{template: "reports.html", title: "Reports and tables", here: "reports", body: b})
}

// writeReport writes a month's report into the collection, as the command does, and shows it.
func (d *Desk) writeReport(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	month := r.PostForm.Get("month")
	if s.st == nil {
		return bad(http.StatusUnprocessableEntity, "there is nothing to report on yet", "Add photos first.")
	}
	d.reporting.Lock()
	defer d.reporting.Unlock()
	if _, err := d.writing.take(s.c); err != nil {
		return err
	}
	_, err := publish.Report(context.WithoutCancel(r.Context()), s.c, s.st, publish.Period{Month: month}, d.opt.Version)
	if e := d.writing.release(); err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	return back(w, r, "/report/"+month+"/"+report.IndexFile)
}

// reportPolicy is what a written report may do: its style stands in the page itself, its pictures are data, and of scripts
// only the one that this program writes into reports runs.
var reportPolicy = func() string {
	sum := sha256.Sum256([]byte(report.Script()))
	return "default-src 'none'; img-src 'self' data:; style-src 'unsafe-inline'; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
}()

// reportFile serves a file of the written reports: pages, plates and tables, and nothing else of the disk.
func (d *Desk) reportFile(w http.ResponseWriter, r *http.Request) error {
	c := collection.Collection{Dir: d.opt.Dir}
	root, err := os.OpenRoot(c.Path(collection.ReportsDir))
	if errors.Is(err, os.ErrNotExist) {
		return notFound("no report has been written yet")
	}
	if err != nil {
		return err
	}
	defer root.Close()
	name := path.Clean(r.PathValue("file"))
	kind := map[string]string{".html": "text/html; charset=utf-8", ".png": "image/png", ".pdf": "application/pdf", ".csv": "text/csv; charset=utf-8", ".json": "application/json"}[path.Ext(name)]
	if kind == "" || strings.HasPrefix(path.Base(name), ".") {
		return notFound("there is no such file in the reports")
	}
	f, err := root.Open(filepath.FromSlash(name))
	if err != nil {
		return notFound("there is no such file in the reports")
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() {
		return notFound("there is no such file in the reports")
	}
	w.Header().Set("Content-Type", kind)
	if path.Ext(name) == ".html" {
		w.Header().Set("Content-Security-Policy", reportPolicy)
	}
	if path.Ext(name) == ".csv" || path.Ext(name) == ".json" {
		w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": path.Base(name)}))
	}
	http.ServeContent(w, r, "", st.ModTime(), f)
	return nil
}

// reportLink leads from a report's page on the desk to the kept originals: they lie beside the reports folder.
func (d *Desk) reportLink(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	rel := "photos/" + path.Clean("/" + r.PathValue("file"))[1:]
	for i := range s.photos {
		if p := &s.photos[i]; collection.ArchivePath(p) == rel {
			return d.original(w, r, s, p)
		}
	}
	return notFound("there is no such photo")
}

// table makes one table of all data anew and hands it out.
func (d *Desk) table(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	name := r.PathValue("name")
	if s.st == nil {
		return bad(http.StatusUnprocessableEntity, "there is nothing in the tables yet", "Add photos first.")
	}
	var b bytes.Buffer
	ok, err := publish.Source{Collection: s.c, Store: s.st, Photos: s.photos, Version: d.opt.Version}.WriteTable(r.Context(), &b, name, &d.pairs)
	if err != nil {
		return err
	}
	if !ok {
		return notFound("there is no such table")
	}
	if path.Ext(name) == ".html" {
		w.Header().Set("Content-Security-Policy", reportPolicy)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
	} else {
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	}
	w.Write(b.Bytes())
	return nil
}

// round makes the sheet for the next round, as a page or as a PDF.
func (d *Desk) round(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	if s.st == nil {
		return bad(http.StatusUnprocessableEntity, "there is no round to go on from yet", "Add the first photos; the sheet then shows how each plant was framed.")
	}
	pdf := r.PathValue("file") == "round.pdf"
	if !pdf && r.PathValue("file") != "round.html" {
		return notFound("there is no such sheet")
	}
	var b bytes.Buffer
	src := publish.Source{Collection: s.c, Store: s.st, Photos: s.photos, Version: d.opt.Version}
	if err := src.WriteRound(r.Context(), &b, pdf); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	if !pdf {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Content-Security-Policy", reportPolicy)
	}
	w.Write(b.Bytes())
	return nil
}
