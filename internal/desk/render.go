package desk

import (
	"bytes"
	"embed"
	"encoding/json"
	"html/template"
	"log"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"

	"phototrack/internal/chart"
	"phototrack/internal/words"
)

//go:embed assets
var assets embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"day": words.LongDay, "month": words.Month, "view": words.View, "event": words.EventDone, "title": plantTitle, "capital": words.Upper, "after": after, "field": fieldWords, "moment": moment,
	"json": func(v any) (string, error) { b, err := json.Marshal(v); return string(b), err },
}).ParseFS(assets, "assets/*.html"))

// page is what every page has: its title, its scripts, and the secret for its forms.
type page struct {
	Title   string
	Here    string // the entry of the navigation that is current
	Scripts []string
	Token   string
	Said    string // what the last action came to
	SaidTo  string // where it can be taken back, "" for nowhere
	Name    string // of the collection
	Faults  []string
	Reports bool // there is something to report on
}

type whole struct {
	page
	Body any
}

// render writes a page; it is made completely before the first byte goes out.
func (d *Desk) render(w http.ResponseWriter, code int, name string, p page, body any) {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, whole{p, body}); err != nil {
		log.Printf("%s: %v", name, err)
		http.Error(w, "The page could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(code)
	w.Write(b.Bytes())
}

// sheet is one page of the collection's: which template it fills with what, and what is said above.
type sheet struct {
	template string
	title    string
	here     string // the entry of the navigation that is current
	body     any
	scripts  []string
}

// pageOf is what stands about a sheet.
func (d *Desk) pageOf(s *snapshot, l sheet) page {
	p := page{Title: l.title, Here: l.here, Scripts: l.scripts, Token: d.token, Name: s.name(), Reports: len(s.photos) > 0}
	for _, e := range s.c.Problems {
		p.Faults = append(p.Faults, e.Error())
	}
	return p
}

// show renders a page of the collection.
func (d *Desk) show(w http.ResponseWriter, r *http.Request, s *snapshot, l sheet) error {
	p := d.pageOf(s, l)
	p.Said = said(r)
	if strings.HasPrefix(r.URL.Query().Get("said"), "lines") {
		p.SaidTo = "/corrections"
	}
	d.render(w, http.StatusOK, l.template, p, l.body)
	return nil
}

func writeJSON(w http.ResponseWriter, code int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		log.Print(err)
		http.Error(w, "The answer could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	w.Write(b)
}

// messages are what a page can be told to say after an action. Only these: a link cannot put words on the page.
var messages = map[string]string{
	"corrected":       "Corrected and measured again.",
	"undone":          "The correction was taken back and the photo measured again.",
	"restored":        "Taken back: the lines say again what they said before.",
	"event":           "Noted in events.csv.",
	"event-future":    "Noted in events.csv, on a day that has not come yet. If the date was a slip, change it below.",
	"plant":           "Added to plants.csv.",
	"lines":           "Changed. The file as it was is kept in the folder former.",
	"counted":         "Written into counts.csv.",
	"lines-measuring": "Changed. The photos that this touches are being measured again in the background.",
	"stale":           "Nothing was written: the file was changed elsewhere in the meantime. It is shown here as it is now; look, and repeat the change if it is still wanted.",
	"answered":        "Noted. This watch rule asks no more until it is reached anew.",
	"rule":            "Saved in watch.csv. The file as it was is kept in the folder former.",
	"card":            "Noted in cards.csv. Photos from that day on are measured again in the background.",
	"dismissed":       "Put aside. It can be brought back under Corrections.",
	"measuring":       "Measuring in the background.",
	"same":            "Nothing was changed.",
}

func said(r *http.Request) string { return messages[r.URL.Query().Get("said")] }

// back sends the browser on after an action, to a page of this desk. A script gets the address as JSON.
func back(w http.ResponseWriter, r *http.Request, to string) error {
	if wantsJSON(r) {
		writeJSON(w, http.StatusOK, map[string]string{"to": to})
		return nil
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// assetKinds are what the program's own files are. The system is not asked: on Windows any program may have told it otherwise.
var assetKinds = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

// asset serves a stylesheet, script or icon of the program.
func (d *Desk) asset(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("name")
	ext := path.Ext(name)
	kind, ok := assetKinds[ext]
	if !ok {
		return notFound("there is no such file")
	}
	data, err := assets.ReadFile("assets/" + name)
	if name == "chart.js" { // which reports have as well
		data, err = []byte(chart.Script), nil
	}
	if err != nil {
		return notFound("there is no such file")
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Write(data)
	return nil
}

func itoa(n int) string { return strconv.Itoa(n) }

// with adds a query to a path.
func with(to string, pairs ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	sep := "?"
	if strings.Contains(to, "?") {
		sep = "&"
	}
	return to + sep + q.Encode()
}
