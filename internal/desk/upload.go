package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/photo"
)

// maxUploadFiles is how many photos one request may bring: a month of a large collection.
const maxUploadFiles = 500

// maxUploadBytes is the most that one request may bring: 500 photos of 40 MB.
const maxUploadBytes = 20_000_000_000

// headBytes is how much of a file is looked at to see what it is. Size and kind of every format stand within it.
const headBytes = 256 << 10

// uploaded is what became of one file.
type uploaded struct {
	Name string `json:"name"`
	Sort string `json:"sort"` // new | known | refused
	Why  string `json:"why,omitempty"`
	Hint string `json:"hint,omitempty"`
}

// addPage is where photos are dropped.
func (d *Desk) addPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	body := struct {
		MaxMB int
		Inbox string
		State jobState
	}{s.c.Settings.Run.MaxFileMB, s.c.Inbox(), d.job.state()}
	return d.show(w, r, s, sheet{template: "add.html", title: "Add photos", here: "add", body: body, scripts: []string{"add.js"}})
}

// upload copies photos into the inbox, as they come and one after another, and has them measured by the workers.
func (d *Desk) upload(w http.ResponseWriter, r *http.Request) error {
	c, err := collection.Open(d.opt.Dir)
	if err != nil {
		return err
	}
	limit := int64(c.Settings.Run.MaxFileMB) * 1_000_000
	most := min(maxUploadBytes, maxUploadFiles*limit)
	if r.ContentLength > most {
		return bad(http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d GB at once", most/1_000_000_000), "Drop the photos in several portions.")
	}
	r.Body = http.MaxBytesReader(w, r.Body, most) // before the parts are read from it
	parts, err := r.MultipartReader()
	if err != nil {
		return bad(http.StatusUnsupportedMediaType, "photos come as a form with files", "Drop them on the page for adding photos.")
	}
	var out []uploaded
	code := http.StatusOK
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return arrived(err)
		}
		if part.FileName() == "" {
			continue
		}
		if len(out) == maxUploadFiles {
			return bad(http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d photos at once", maxUploadFiles), "Drop them in several portions.")
		}
		u, status, err := receive(c, part.FileName(), part, limit)
		if err != nil {
			return err
		}
		out = append(out, u)
		code = max(code, status)
	}
	if code == http.StatusOK || len(out) > 1 {
		d.startDue()
	}
	if wantsJSON(r) {
		writeJSON(w, code, out)
		return nil
	}
	for _, u := range out {
		if u.Sort == "refused" {
			return bad(code, u.Name+": "+u.Why, u.Hint)
		}
	}
	return back(w, r, "/add?said=measuring")
}

// receive puts one file into the inbox under a safe name of its own. A file that is too long, or no photo, is refused
// and leaves nothing; one whose content is in the inbox already is left out.
func receive(c *collection.Collection, name string, from io.Reader, limit int64) (uploaded, int, error) {
	u := uploaded{Name: collection.SafeName(filepath.Base(strings.ReplaceAll(name, `\`, "/"))), Sort: "refused"}
	// The temporary name begins with a dot, so that a run passes it over. It lies in the inbox to be moved in one step.
	tmp, err := os.CreateTemp(c.Inbox(), ".arriving-*")
	if err != nil {
		return u, 0, fsx.Explain(c.Inbox(), err)
	}
	defer os.Remove(tmp.Name())
	defer tmp.Close()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(tmp, sum), io.LimitReader(from, limit+1))
	if err != nil {
		return u, 0, arrived(fmt.Errorf("%s did not arrive whole: %w", u.Name, err))
	}
	if n > limit {
		u.Why, u.Hint = fmt.Sprintf("larger than %d MB", limit/1_000_000), "Send the photo as the phone took it."
		return u, http.StatusRequestEntityTooLarge, nil
	}
	format, why := photoFormat(tmp)
	if why != nil {
		u.Why, u.Hint = why.Error(), "Drop photos: JPEG, PNG, TIFF, WebP or HEIC."
		return u, http.StatusUnsupportedMediaType, nil
	}
	u.Name = collection.PhotoName(u.Name, format)
	// Windows gives an open file no other name.
	if err := tmp.Close(); err != nil {
		return u, 0, fsx.Explain(c.Inbox(), err)
	}
	known, err := place(c, tmp.Name(), u.Name, hex.EncodeToString(sum.Sum(nil)))
	if err != nil {
		return u, 0, err
	}
	u.Sort = "new"
	if known {
		u.Sort = "known"
	}
	return u, http.StatusOK, nil
}

// arrived says what kept a body from arriving.
func arrived(err error) error {
	var long *http.MaxBytesError
	var known *fault
	if errors.As(err, &long) || errors.As(err, &known) {
		return err
	}
	return &fault{http.StatusBadRequest, err}
}

// photoFormat gives the format of a photo by the beginning of its file, "" where that does not tell it wholly; or why it is
// no photo. Nothing is decoded here: that is the workers' part.
func photoFormat(f *os.File) (format string, err error) {
	defer func() {
		if e := recover(); e != nil {
			err = errors.New("not readable as a photo")
		}
	}()
	head := make([]byte, headBytes)
	n, err := f.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return "", err
	}
	format, _, _, err = photo.Sniff(head[:n])
	if errors.Is(err, photo.ErrUnreadable) && n == headBytes {
		return "", nil // its size stands farther in; the worker will see
	}
	return format, err
}

// mostNames are tried for a file whose name is taken.
const mostNames = 1000

// place gives the file its name in the inbox, or a neighbouring one where that is taken by another photo.
func place(c *collection.Collection, from, name, sum string) (known bool, err error) {
	ext := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	if err := os.Chmod(from, 0o644); err != nil {
		return false, fsx.Explain(from, err)
	}
	for i := 1; i < mostNames; i++ {
		to := filepath.Join(c.Inbox(), name)
		if i > 1 {
			to = filepath.Join(c.Inbox(), fmt.Sprintf("%s_%d%s", stem, i, ext))
		}
		err := fsx.MoveNew(from, to)
		if err == nil {
			return false, nil
		}
		if !errors.Is(err, os.ErrExist) {
			return false, err
		}
		if there, err := collection.HashFile(to); err == nil && there == sum {
			return true, nil
		}
	}
	return false, bad(http.StatusConflict, "too many photos are called "+name, "Give it another name.")
}
