package desk

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Requests that do not come from the grower's own page are refused, each for its reason.
func TestHostileRequestsAreRefused(t *testing.T) {
	b := serve(t)
	host := strings.TrimPrefix(b.base, "http://")
	_, port, _ := strings.Cut(host, ":")
	cases := map[string]struct {
		change func(r *http.Request)
		path   string
		method string
		want   int
	}{
		"its own name":              {func(r *http.Request) {}, "/", "GET", 200},
		"its own name, localhost":   {func(r *http.Request) { r.Host = "localhost:" + port }, "/", "GET", 200},
		"another name (rebinding)":  {func(r *http.Request) { r.Host = "plants.example:" + port }, "/", "GET", 421},
		"a name without port":       {func(r *http.Request) { r.Host = "127.0.0.1" }, "/", "GET", 421},
		"another origin":            {func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, "/", "GET", 403},
		"a null origin":             {func(r *http.Request) { r.Header.Set("Origin", "null") }, "/", "GET", 403},
		"another port's page":       {func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") }, "/", "GET", 403},
		"linked from elsewhere":     {func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, "/", "GET", 403},
		"without the cookie":        {func(r *http.Request) { r.Header.Del("Cookie") }, "/", "GET", 403},
		"with a wrong key":          {func(r *http.Request) { r.Header.Del("Cookie") }, "/?key=0123", "GET", 403},
		"change without token":      {func(r *http.Request) {}, "/measure", "POST", 403},
		"change with wrong token":   {func(r *http.Request) { r.Header.Set(tokenHeader, "0123") }, "/measure", "POST", 403},
		"a line without token":      {func(r *http.Request) {}, "/events/edit?line=2&do=remove", "POST", 403},
		"a plant with wrong token":  {func(r *http.Request) { r.Header.Set(tokenHeader, "0123") }, "/plants/edit", "POST", 403},
		"a method it does not have": {func(r *http.Request) { r.Header.Set(tokenHeader, b.desk.token) }, "/", "DELETE", 405},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			r, err := http.NewRequest(c.method, b.base+c.path, nil)
			require.NoError(t, err)
			u, _ := url.Parse(b.base)
			for _, k := range b.client.Jar.Cookies(u) {
				r.AddCookie(k)
			}
			c.change(r)
			resp, err := (&http.Client{}).Do(r)
			require.NoError(t, err)
			resp.Body.Close()
			assert.Equal(t, c.want, resp.StatusCode)
			assert.Contains(t, resp.Header.Get("Content-Security-Policy"), "script-src 'self'")
			assert.NotContains(t, resp.Header.Get("Content-Security-Policy"), "unsafe")
			assert.Equal(t, "nosniff", resp.Header.Get("X-Content-Type-Options"))
			assert.Empty(t, resp.Header.Get("Access-Control-Allow-Origin"))
		})
	}
	l, err := Listen(0)
	require.NoError(t, err)
	defer l.Close()
	assert.True(t, strings.HasPrefix(l.Addr().String(), "127.0.0.1:"))
}

// The key of an address is exchanged for the cookie and is gone from the address; what a browser is started with works once.
func TestAKeyIsExchangedAndWhatABrowserIsStartedWithWorksOnce(t *testing.T) {
	b := serve(t)
	host := strings.TrimPrefix(b.base, "http://")
	visit := func(address string) (code int, at, cookie string) {
		jar, err := cookiejar.New(nil)
		require.NoError(t, err)
		r, err := (&http.Client{Jar: jar}).Get(address)
		require.NoError(t, err)
		defer r.Body.Close()
		u, _ := url.Parse(b.base)
		for _, c := range jar.Cookies(u) {
			cookie = c.Value
		}
		return r.StatusCode, r.Request.URL.String(), cookie
	}
	pass := b.desk.passTo(host, "/start")
	code, at, cookie := visit(pass)
	assert.Equal(t, 200, code)
	assert.Equal(t, b.base+"/start", at, "the key is gone from the address bar")
	assert.Equal(t, b.desk.token, cookie)
	assert.NotContains(t, pass, b.desk.token, "the session's secret never stands in an address")
	assert.NotContains(t, pass, b.desk.key)
	code, _, cookie = visit(pass)
	assert.Equal(t, 403, code, "a second time it lets nobody in")
	assert.Empty(t, cookie)

	for range 2 {
		code, at, _ = visit(b.key)
		assert.Equal(t, 200, code, "the printed address can be opened again")
		assert.Equal(t, b.base+"/", at)
	}
	r, err := http.Get(strings.Replace(b.key, "/?", PassPath+"?", 1))
	require.NoError(t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	code, _, _ = visit(strings.TrimSpace(string(text)))
	assert.Equal(t, 200, code, "a second start of the program gets a pass of its own")
	code, _ = b.get(t, PassPath)
	assert.Equal(t, 403, code, "a page of the desk gets none")
	b.desk.passes.Lock()
	b.desk.pass["old"] = time.Now().Add(-time.Second)
	b.desk.passes.Unlock()
	code, _, _ = visit(b.base + "/?key=old")
	assert.Equal(t, 403, code)
}

// A body that stops coming, or comes a byte at a time, is given up.
func TestASlowBodyIsGivenUp(t *testing.T) {
	var limit time.Time
	p := &paced{ReadCloser: io.NopCloser(strings.NewReader(strings.Repeat("x", 100_000))), begun: time.Now(), grace: time.Second,
		limit: func(until time.Time) error { limit = until; return nil }}
	_, err := io.CopyN(io.Discard, p, 50_000)
	require.NoError(t, err)
	first := limit
	_, err = io.CopyN(io.Discard, p, 50_000)
	require.NoError(t, err)
	assert.Greater(t, limit.Sub(first), 500*time.Millisecond, "what comes at a fair pace gets more time")

	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body := newPaced(w, r.Body)
		body.grace = 200 * time.Millisecond
		_, err := io.ReadAll(body)
		var f *fault
		if errors.As(err, &f) {
			w.WriteHeader(f.code)
		}
	}))
	defer srv.Close()
	out, in := io.Pipe()
	go func() {
		for {
			if _, err := in.Write([]byte("x")); err != nil {
				return
			}
			time.Sleep(20 * time.Millisecond)
		}
	}()
	start := time.Now()
	r, err := http.Post(srv.URL, "text/plain", out)
	out.Close()
	if err == nil {
		defer r.Body.Close()
		assert.Equal(t, http.StatusRequestTimeout, r.StatusCode)
	}
	assert.Less(t, time.Since(start), 10*time.Second)
}

// A photo is measured under whatever name it comes, and the length of a request is judged before its parts.
func TestAPhotoUnderAListsNameIsAPhoto(t *testing.T) {
	b := serve(t)
	data, err := os.ReadFile("../../samples/photos/012_2026-03_L.jpg")
	require.NoError(t, err)
	code, _, body := b.drop(t, map[string][]byte{"plants.csv": data})
	require.Equal(t, 200, code, body)
	assert.FileExists(t, filepath.Join(b.dir, "inbox", "plants.csv.jpg"))
	b.settle(t)
	_, page := b.get(t, "/add")
	assert.NotContains(t, page, "not known")

	req, err := http.NewRequest("POST", b.base+"/upload", strings.NewReader("x"))
	require.NoError(t, err)
	req.ContentLength = maxUploadBytes + 1
	req.Header.Set(tokenHeader, b.desk.token)
	req.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	u, _ := url.Parse(b.base)
	for _, k := range b.client.Jar.Cookies(u) {
		req.AddCookie(k)
	}
	w := httptest.NewRecorder()
	req.Host = strings.TrimPrefix(b.base, "http://")
	b.desk.Handler(req.Host).ServeHTTP(w, req)
	assert.Equal(t, http.StatusRequestEntityTooLarge, w.Code)
}

// No address leads to a file outside the collection, or to one that is no photo.
func TestNoPathLeadsOut(t *testing.T) {
	b := serve(t)
	secret := filepath.Join(filepath.Dir(b.dir), "secret.jpg")
	require.NoError(t, os.WriteFile(secret, []byte("secret"), 0o644))
	for _, path := range []string{
		"/asset/../server.go", "/asset/..%2f..%2f..%2fgo.mod", "/asset/%2e%2e%2fserver.go", "/asset/desk.css%00", "/asset/layout.html",
		"/picture/..%2f..%2fsecret.jpg/original", "/picture/0000/original", "/picture/" + strings.Repeat("0", 64) + "/../../../secret.jpg",
		"/draft/..%2f..%2fsecret.jpg", "/photo/..%2fplants.csv", "/phototrack.db", "/inbox/", "/photos/", "/plants.csv", "/plant/../plants.csv",
	} {
		code, body := b.get(t, path)
		assert.GreaterOrEqual(t, code, 400, path)
		assert.NotContains(t, body, "secret.jpg\n", path)
		assert.NotContains(t, body, "package desk", path)
	}
}

// What is dropped on the page is bounded in size and kind, gets a safe name, overwrites nothing, and leaves nothing
// behind when it is refused.
func TestUploadsAreBounded(t *testing.T) {
	b := serve(t)
	settings := b.file(t, "settings.toml")
	require.Contains(t, settings, "max_file_mb")
	var lines []string
	for _, l := range strings.Split(settings, "\n") {
		if strings.HasPrefix(strings.TrimSpace(l), "max_file_mb") {
			l = "max_file_mb = 1"
		}
		lines = append(lines, l)
	}
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "settings.toml"), []byte(strings.Join(lines, "\n")), 0o644))
	good, err := os.ReadFile("../../samples/photos/045_2026-03_L.jpg")
	require.NoError(t, err)

	code, _, _ := b.drop(t, map[string][]byte{"large.jpg": append(append([]byte{}, good...), make([]byte, 1_100_000)...)})
	assert.Equal(t, 413, code)
	code, out, _ := b.drop(t, map[string][]byte{"page.jpg": []byte("<script>alert(1)</script>")})
	assert.Equal(t, 415, code)
	assert.Equal(t, "refused", out[0].Sort)
	code, _, _ = b.drop(t, map[string][]byte{"run.exe": []byte("MZ\x90\x00 this is a program")})
	assert.Equal(t, 415, code)
	code, _ = b.send(t, "/upload", "application/octet-stream", bytes.NewReader(good))
	assert.Equal(t, 415, code)
	code, _ = b.send(t, "/events", "application/x-www-form-urlencoded", strings.NewReader("note="+strings.Repeat("a", maxFormBytes+10)))
	assert.Equal(t, 413, code)
	names, err := os.ReadDir(filepath.Join(b.dir, "inbox"))
	require.NoError(t, err)
	assert.Empty(t, names, "a refused file leaves nothing")

	// Names that climb, that are taken, and that carry a script.
	code, out, text := b.drop(t, map[string][]byte{"../../../045_2026-03_L.jpg": good})
	require.Equal(t, 200, code, text)
	assert.Equal(t, "new", out[0].Sort)
	assert.FileExists(t, filepath.Join(b.dir, "inbox", "045_2026-03_L.jpg"))
	_, out, _ = b.drop(t, map[string][]byte{"045_2026-03_L.jpg": good})
	assert.Equal(t, "known", out[0].Sort)
	other, err := os.ReadFile("../../samples/photos/045_2026-04_L.jpg")
	require.NoError(t, err)
	_, out, _ = b.drop(t, map[string][]byte{"045_2026-03_L.jpg": other})
	assert.Equal(t, "new", out[0].Sort)
	kept, err := os.ReadFile(filepath.Join(b.dir, "inbox", "045_2026-03_L.jpg"))
	require.NoError(t, err)
	assert.Equal(t, good, kept, "a photo of the same name is not overwritten")
	assert.FileExists(t, filepath.Join(b.dir, "inbox", "045_2026-03_L_2.jpg"))
	b.settle(t)
	code, page := b.get(t, "/plant/45")
	assert.Equal(t, 200, code)
	assert.Equal(t, 2, strings.Count(page, `<span class="shotname">`))
}

// Scripts in names and notes stay text on every page.
func TestScriptsInNamesStayText(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg")
	evil := `<script>alert(1)</script>"'><img src=x onerror=alert(2)>`
	code, page := b.post(t, "/plants", url.Values{"number": {"60"}, "name": {evil}, "group": {evil}, "note": {evil}})
	require.Equal(t, 200, code, page)
	code, page = b.post(t, "/events", url.Values{"date": {"2026-03-20"}, "plants": {"12"}, "event": {"other"}, "note": {evil}})
	require.Equal(t, 200, code, page)
	b.settle(t)
	sha := b.sha(t, "012_2026-03_L.jpg")
	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"offset_mm": {"3"}, "reason": {evil}})
	require.Equal(t, 200, code)
	for _, path := range []string{"/", "/?find=" + url.QueryEscape(evil), "/plant/12", "/plant/60", "/notes?for=" + url.QueryEscape(evil), "/plates", "/compare?plant=12", "/corrections", "/photo/" + sha, "/add", "/?said=" + url.QueryEscape(evil)} {
		code, page := b.get(t, path)
		assert.Equal(t, 200, code, path)
		assert.NotContains(t, page, "<script>alert", path)
		assert.NotContains(t, page, "<img src=x", path)
		assert.NotContains(t, page, " style=", path)
		assert.NotContains(t, page, "onerror=alert(2)>\"", path)
	}
}
