package desk

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/plate"
	"phototrack/internal/publish"
	"phototrack/internal/record"
)

// platesDir is the folder under reports/ that saved plates go to.
const platesDir = "plates"

// keptDrafts is how many previews are kept in memory, the latest ones: a plate is a few megabytes.
const keptDrafts = 4

// drafts are plates that were composed and may be saved.
type drafts struct {
	mu   sync.Mutex
	list []draft
}

type draft struct {
	id, name, mime string
	data           []byte
}

func (k *drafts) add(d draft) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.list = append(k.list, d)
	if n := len(k.list) - keptDrafts; n > 0 {
		k.list = append([]draft{}, k.list[n:]...)
	}
}

func (k *drafts) get(id string) (draft, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, d := range k.list {
		if d.id == id {
			return d, true
		}
	}
	return draft{}, false
}

type platesBody struct {
	Plants         []platePlant
	Months         []string
	Presets        []plate.Preset
	Picked         map[int]bool
	Dates          map[string]bool
	Preset         string
	Form           string
	View           string
	Draft          string
	Image          bool
	File           string
	Saved          string
	Title, Caption string // of this plate, "" for those of the settings
}

type platePlant struct {
	record.Plant
	Shots int
}

func (d *Desk) platesPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
	b := platesBody{Months: s.months, Presets: plate.Presets(), Picked: map[int]bool{}, Dates: map[string]bool{}, Preset: q.Get("preset"), Form: q.Get("form"), View: q.Get("view"), Title: q.Get("title"), Caption: q.Get("caption")}
	if n, ok, err := collection.ParseNumbers(strings.Join(q["plant"], " ")); ok && err == nil {
		for _, k := range n {
			b.Picked[k] = true
		}
	}
	for _, m := range q["date"] {
		b.Dates[m] = true
	}
	if k, ok := d.drafts.get(q.Get("draft")); ok {
		b.Draft, b.Image, b.File = k.id, strings.HasPrefix(k.mime, "image/"), k.name
		if q.Get("saved") == "yes" {
			b.Saved = filepath.Join(s.c.Path(collection.ReportsDir, platesDir), k.name)
		}
	}
	count := map[int]int{}
	for i := range s.photos {
		if s.photos[i].Status != record.Rejected {
			count[s.photos[i].Plant]++
		}
	}
	for _, p := range s.c.Plants {
		if count[p.Number] > 0 {
			b.Plants = append(b.Plants, platePlant{p, count[p.Number]})
		}
	}
	return d.show(w, r, s, sheet{template: "plates.html", title: "Plates", here: "plates", body: b})
}

// composePlate makes a plate as chosen, for preview, or saves the one that was previewed.
func (d *Desk) composePlate(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	if id := f.Get("save"); id != "" {
		return d.saveDraft(w, r, id)
	}
	if s.st == nil {
		return bad(http.StatusConflict, "nothing has been measured yet", "Add photos first.")
	}
	plants, ok, err := collection.ParseNumbers(strings.Join(f["plant"], " "))
	if err != nil || !ok || len(plants) == 0 {
		return bad(http.StatusUnprocessableEntity, "no plant was chosen", "Tick one plant, or several to set them against each other.")
	}
	o := publish.PlateOptions{Plants: plants, Dates: f["date"], View: record.View(f.Get("view")), Preset: f.Get("preset"), PDF: f.Get("form") == "pdf", Moving: f.Get("form") == "moving",
		Title: strings.TrimSpace(f.Get("title")), Caption: strings.TrimSpace(f.Get("caption"))}
	if o.View != "" && o.View != record.Leaf && o.View != record.Root {
		return bad(http.StatusUnprocessableEntity, "that is not a view", "Choose leaves or roots.")
	}
	dir, err := os.MkdirTemp("", "phototrack-plate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	o.Out = dir
	path, err := publish.Plate(r.Context(), s.c, s.st, o)
	if err != nil {
		return err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	id := make([]byte, 8)
	if _, err := rand.Read(id); err != nil {
		return err
	}
	k := draft{id: hex.EncodeToString(id), name: filepath.Base(path), data: data, mime: map[string]string{".png": "image/png", ".gif": "image/gif", ".pdf": "application/pdf"}[filepath.Ext(path)]}
	d.drafts.add(k)
	f.Del(tokenField)
	f.Set("draft", k.id)
	return back(w, r, "/plates?"+f.Encode()+"#preview")
}

// saveDraft writes a previewed plate into reports/plates; nothing that is there is overwritten.
func (d *Desk) saveDraft(w http.ResponseWriter, r *http.Request, id string) error {
	k, ok := d.drafts.get(id)
	if !ok {
		return bad(http.StatusGone, "the preview is no longer kept", "Compose the plate again.")
	}
	dir := filepath.Join(d.opt.Dir, collection.ReportsDir, platesDir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fsx.Explain(dir, err)
	}
	ext := filepath.Ext(k.name)
	stem := strings.TrimSuffix(k.name, ext)
	for i := 1; i < mostNames; i++ {
		name := k.name
		if i > 1 {
			name = stem + "_" + itoa(i) + ext
		}
		err := fsx.PlaceNew(filepath.Join(dir, name), 0o644, writeAll(k.data))
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err != nil {
			return err
		}
		return back(w, r, with("/plates", "draft", id, "saved", "yes")+"#preview")
	}
	return bad(http.StatusConflict, "there are too many plates of that name", "Move some out of "+dir+".")
}

// draft serves a previewed plate.
func (d *Desk) draft(w http.ResponseWriter, r *http.Request) error {
	k, ok := d.drafts.get(r.PathValue("id"))
	if !ok {
		return bad(http.StatusGone, "the preview is no longer kept", "Compose the plate again.")
	}
	w.Header().Set("Content-Type", k.mime)
	if k.mime == "application/pdf" {
		w.Header().Del("Content-Security-Policy") // the browser's own PDF viewer is not a page of this desk
	}
	if r.URL.Query().Get("as") == "file" {
		w.Header().Set("Content-Disposition", `attachment; filename="`+k.name+`"`)
	}
	w.Write(k.data)
	return nil
}

func writeAll(data []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(data); return err }
}
