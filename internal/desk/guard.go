package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"io"
	"log"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"phototrack/internal/fsx"
)

// keyParam is the query parameter of an address that lets a browser in. Its value is exchanged for the cookie and is gone
// from the address with the answer.
const keyParam = "key"

// PassPath gives whoever holds the key an address that lets one browser in, once: what a browser is started with stands in
// the list of processes, which every user of the computer can read.
const PassPath = "/pass"

// passLife is how long such an address is good for: a browser that has to be started first takes its time, and so does who
// copies it from a dialog.
const passLife = 10 * time.Minute

// tokenField and tokenHeader are where a form and a script give the secret back. Another site's page cannot read it, so
// it cannot send it.
const (
	tokenField  = "token"
	tokenHeader = "X-Desk-Token"
)

// maxFormBytes is the most that a request other than an upload may send: marks of many thousand points fit.
const maxFormBytes = 4 << 20

// policy lets a page use what this server sends and nothing else; no script or style stands in the page itself.
const policy = "default-src 'none'; img-src 'self' blob:; script-src 'self'; style-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard stands before every request. It refuses what does not come from this computer's browser on this very page:
//   - a Host that is not the loopback address asked for by its own name (DNS rebinding);
//   - an Origin, or a Sec-Fetch-Site, of another page;
//   - a request without the session's secret, in the cookie or (the first one) in the address;
//   - a change without the secret in the form or header (requests forged by another page);
//   - a body that is too long, or comes too slowly.
func (d *Desk) guard(host string, next http.Handler) http.Handler {
	_, port, _ := strings.Cut(host, ":")
	hosts := map[string]bool{host: true, "localhost:" + port: true}
	cookie := "desk_" + port
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !hosts[r.Host] {
			refuse(w, r, http.StatusMisdirectedRequest, "This desk does not answer to that name.")
			return
		}
		if o := r.Header.Get("Origin"); o != "" && o != "http://"+r.Host {
			refuse(w, r, http.StatusForbidden, "Requests of other pages are not answered.")
			return
		}
		if s := r.Header.Get("Sec-Fetch-Site"); s != "" && s != "same-origin" && s != "none" {
			refuse(w, r, http.StatusForbidden, "Requests of other pages are not answered.")
			return
		}
		switch d.known(w, r, cookie) {
		case stranger:
			refuse(w, r, http.StatusForbidden, "Open the address that phototrack desk printed when it was started. (An address that was opened by the program itself works once.)")
			return
		case newcomer:
			q := r.URL.Query()
			q.Del(keyParam)
			to := url.URL{Path: r.URL.Path, RawQuery: q.Encode()}
			http.Redirect(w, r, to.String(), http.StatusSeeOther) // without the key
			return
		}
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = newPaced(w, r.Body)
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead && !d.meant(w, r) {
			return
		}
		next.ServeHTTP(w, r)
	})
}

// What known finds a request to be.
const (
	stranger = iota
	newcomer // a browser that has just shown a key and got the cookie
	friend
)

// known says whether the request comes from a browser that was let in. One that shows a key gets the cookie.
func (d *Desk) known(w http.ResponseWriter, r *http.Request, cookie string) int {
	if key := r.URL.Query().Get(keyParam); key != "" && (r.Method == http.MethodGet || r.Method == http.MethodHead) {
		lasting := equal(key, d.key)
		switch {
		case lasting && r.URL.Path == PassPath:
			return friend // the program itself, which wants no cookie
		case lasting || d.usePass(key):
			http.SetCookie(w, &http.Cookie{Name: cookie, Value: d.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
			return newcomer
		}
	}
	if c, err := r.Cookie(cookie); err == nil && d.secret(c.Value) {
		return friend
	}
	return stranger
}

// Pass gives an address that lets one browser in, once, within passLife; path is the page that it shows.
func (d *Desk) Pass(l net.Listener, path string) string {
	return d.passTo(l.Addr().String(), path)
}

func (d *Desk) passTo(host, path string) string {
	key := rand.Text()
	d.passes.Lock()
	defer d.passes.Unlock()
	if d.pass == nil {
		d.pass = map[string]time.Time{}
	}
	d.pass[key] = time.Now().Add(passLife)
	return "http://" + host + path + "?" + keyParam + "=" + key
}

// usePass takes a pass; it is good once.
func (d *Desk) usePass(key string) bool {
	d.passes.Lock()
	defer d.passes.Unlock()
	now := time.Now()
	good := false
	for k, until := range d.pass {
		switch {
		case now.After(until):
			delete(d.pass, k)
		case equal(k, key):
			good = true
			delete(d.pass, k)
		}
	}
	return good
}

// givePass answers the program itself, started once more, with a new pass.
func (d *Desk) givePass(w http.ResponseWriter, r *http.Request) {
	if !equal(r.URL.Query().Get(keyParam), d.key) {
		refuse(w, r, http.StatusForbidden, "Only the program itself is given a pass.")
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	io.WriteString(w, d.passTo(r.Host, "/")+"\n")
}

// meant says whether a change was sent by a page of this desk, and bounds its body. An upload, which is a stream, gives
// the secret in a header; a form may give it in a field.
func (d *Desk) meant(w http.ResponseWriter, r *http.Request) bool {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind != "multipart/form-data" {
		r.Body = http.MaxBytesReader(w, r.Body, maxFormBytes)
	}
	if kind == "application/x-www-form-urlencoded" {
		err := r.ParseForm()
		var long *http.MaxBytesError
		if errors.As(err, &long) {
			refuse(w, r, http.StatusRequestEntityTooLarge, "That is too long.")
			return false
		}
		if err != nil {
			refuse(w, r, http.StatusBadRequest, "That form cannot be read.")
			return false
		}
	}
	if d.secret(r.Header.Get(tokenHeader)) || d.secret(r.PostForm.Get(tokenField)) {
		return true
	}
	if kind == "multipart/form-data" && d.secret(r.URL.Query().Get(tokenField)) {
		return true // a form without script: its files come as a stream after the address
	}
	refuse(w, r, http.StatusForbidden, "This page is from an earlier desk. Load it again and repeat.")
	return false
}

func (d *Desk) secret(s string) bool { return equal(s, d.token) }

func equal(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

func refuse(w http.ResponseWriter, r *http.Request, code int, why string) {
	if wantsJSON(r) {
		writeJSON(w, code, map[string]string{"error": why})
		return
	}
	http.Error(w, why, code)
}

// fault is an error with the HTTP status that goes with it.
type fault struct {
	code int
	err  error
}

func (f *fault) Error() string { return f.err.Error() }
func (f *fault) Unwrap() error { return f.err }

// bad is a fault of the request, in words for the grower.
func bad(code int, what, hint string) error {
	return &fault{code, &fsx.HintError{What: what, Hint: hint}}
}

func notFound(what string) error {
	return bad(http.StatusNotFound, what, "Go back to the month and choose again.")
}

// answer turns a page's error into a page that says what to do.
func (d *Desk) answer(f func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		err := f(w, r)
		if err == nil || r.Context().Err() != nil {
			return
		}
		code := http.StatusInternalServerError
		var ft *fault
		var hint *fsx.HintError
		var long *http.MaxBytesError
		switch {
		case errors.As(err, &ft):
			code = ft.code
		case errors.As(err, &long):
			code = http.StatusRequestEntityTooLarge
		case errors.Is(err, fsx.ErrLocked):
			code = http.StatusConflict
		case errors.As(err, &hint):
			code = http.StatusUnprocessableEntity
		}
		if code == http.StatusInternalServerError {
			log.Printf("%s %s: %v", r.Method, url.PathEscape(r.URL.Path), err)
		}
		if wantsJSON(r) {
			writeJSON(w, code, map[string]string{"error": err.Error(), "hint": fsx.HintOf(err)})
			return
		}
		d.render(w, code, "fault.html", page{Title: "That did not work", Token: d.token}, struct{ What, Hint string }{err.Error(), fsx.HintOf(err)})
	}
}

func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json") || r.Header.Get(tokenHeader) != ""
}
