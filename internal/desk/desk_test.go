package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	imagepng "image/png"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
)

// program is the built program: its workers measure.
var program string

func TestMain(m *testing.M) { os.Exit(runTests(m)) }

func runTests(m *testing.M) int {
	dir, err := os.MkdirTemp("", "desk-test")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	program = filepath.Join(dir, "phototrack")
	if out, err := exec.Command("go", "build", "-o", program, "../../cmd/phototrack").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// bench is a desk that is being served, and a browser without windows that knows its address.
type bench struct {
	desk   *Desk
	dir    string
	base   string
	key    string // the whole address
	client *http.Client
}

// serve makes a collection of the sample lists with some sample photos in its inbox, measures them, and serves it.
func serve(t testing.TB, photos ...string) *bench {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	for _, f := range []string{"plants", "events", "watch", "cards"} {
		copyFile(t, "../../samples/"+f+".csv", filepath.Join(dir, f+".csv"))
	}
	for _, p := range photos {
		copyFile(t, "../../samples/photos/"+p, filepath.Join(dir, "inbox", p))
	}
	return serveDir(t, dir, len(photos) > 0)
}

func serveDir(t testing.TB, dir string, measure bool) *bench {
	t.Helper()
	d, err := New(Options{Dir: dir, Version: "test", Pool: func(c *collection.Collection) (pipeline.Pool, error) {
		return pipeline.Pool{Command: []string{program, "worker", "--collection", c.Dir}, Workers: 2, Limit: time.Minute}, nil
	}})
	require.NoError(t, err)
	l, err := Listen(0)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		require.NoError(t, <-ended)
	})
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	b := &bench{desk: d, dir: d.opt.Dir, base: "http://" + l.Addr().String(), key: d.Address(l), client: &http.Client{Jar: jar}}
	code, _ := b.get(t, strings.TrimPrefix(b.key, b.base))
	require.Equal(t, 200, code)
	if measure {
		b.post(t, "/measure", url.Values{})
		b.settle(t)
	}
	return b
}

func copyFile(t testing.TB, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, data, 0o644))
}

func (b *bench) get(t testing.TB, path string) (int, string) {
	t.Helper()
	r, err := b.client.Get(b.base + path)
	require.NoError(t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return r.StatusCode, string(data)
}

// post sends a form as the pages do, with the token.
func (b *bench) post(t testing.TB, path string, form url.Values) (int, string) {
	t.Helper()
	form.Set(tokenField, b.desk.token)
	r, err := b.client.PostForm(b.base+path, form)
	require.NoError(t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return r.StatusCode, string(data)
}

// send posts a body with the token in its header.
func (b *bench) send(t testing.TB, path, kind string, body io.Reader) (int, string) {
	t.Helper()
	req, err := http.NewRequest("POST", b.base+path, body)
	require.NoError(t, err)
	req.Header.Set("Content-Type", kind)
	req.Header.Set(tokenHeader, b.desk.token)
	r, err := b.client.Do(req)
	require.NoError(t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return r.StatusCode, string(data)
}

// drop uploads files as the page does.
func (b *bench) drop(t testing.TB, files map[string][]byte) (int, []uploaded, string) {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, data := range files {
		part, err := w.CreateFormFile("photos", name)
		require.NoError(t, err)
		part.Write(data)
	}
	require.NoError(t, w.Close())
	code, text := b.send(t, "/upload", w.FormDataContentType(), &body)
	var out []uploaded
	json.Unmarshal([]byte(text), &out)
	return code, out, text
}

// settle waits until nothing is being measured.
func (b *bench) settle(t testing.TB) jobState {
	t.Helper()
	var s jobState
	require.Eventually(t, func() bool {
		s = b.desk.job.state()
		return !s.Running
	}, 60*time.Second, 30*time.Millisecond)
	require.Empty(t, s.Fault)
	return s
}

// sha finds the content hash of a stored photo by its name.
func (b *bench) sha(t testing.TB, name string) string {
	t.Helper()
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	for _, p := range s.photos {
		if p.Name == name {
			return p.SHA256
		}
	}
	t.Fatalf("%s is not stored", name)
	return ""
}

// value is a quantity of a stored photo.
func (b *bench) value(t testing.TB, name, quantity string) float64 {
	t.Helper()
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	for i := range s.photos {
		if s.photos[i].Name == name {
			q, ok := s.photos[i].Find(quantity)
			require.True(t, ok, "%s has no %s: %v", name, quantity, s.photos[i].Reasons)
			return q.Value
		}
	}
	t.Fatalf("%s is not stored", name)
	return 0
}

func (b *bench) file(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(b.dir, name))
	require.NoError(t, err)
	return string(data)
}

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
		"its own name, localhost":   {func(r *http.Request) { r.Host = "localhost:" + port }, "/?" + keyParam + "=" + b.desk.token, "GET", 200},
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

// A file edited by hand is noticed on the next page, and its lines stay when the desk adds one.
func TestHandEditsAreNoticedAndKept(t *testing.T) {
	b := serve(t)
	path := filepath.Join(b.dir, "plants.csv")
	before := b.file(t, "plants.csv")
	require.NoError(t, os.WriteFile(path, []byte(before+"70,Hoya by hand,,,,,,,\r\n"), 0o644))
	_, page := b.get(t, "/")
	assert.Contains(t, page, "Hoya by hand")
	code, _ := b.post(t, "/plants", url.Values{"number": {"71"}, "name": {"Hoya from the desk"}})
	assert.Equal(t, 200, code)
	after := b.file(t, "plants.csv")
	assert.True(t, strings.HasPrefix(after, before+"70,Hoya by hand"), "every byte that was there stays")
	assert.Contains(t, after, "71,Hoya from the desk")
	code, page = b.post(t, "/plants", url.Values{"number": {"71"}, "name": {"again"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, "A number belongs to one plant for life")
	require.NoError(t, os.WriteFile(path, []byte(before+"x,broken,,,,,,,\n"), 0o644))
	_, page = b.get(t, "/")
	assert.Contains(t, page, "lines of your files need a look")
	assert.NotContains(t, page, "Hoya by hand")
	b.settle(t)
}

// An event can be noted for one plant, a list or a group; it lands in events.csv as one line.
func TestEventsForOneSomeAndAGroup(t *testing.T) {
	b := serve(t)
	for _, plants := range []string{"12", "17, 23", "clivia"} {
		code, page := b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {plants}, "event": {"feed"}, "note": {"half strength"}})
		require.Equal(t, 200, code, page)
	}
	events := b.file(t, "events.csv")
	assert.Contains(t, events, "2026-05-02,clivia,feed,half strength")
	assert.Contains(t, events, `2026-05-02,"17, 23",feed,half strength`)
	_, page := b.get(t, "/plant/44")
	assert.Contains(t, page, "half strength")
	for name, bad := range map[string]url.Values{
		"no such day":   {"date": {"2026-13-02"}, "plants": {"12"}, "event": {"feed"}},
		"no such plant": {"date": {"2026-05-02"}, "plants": {"99"}, "event": {"feed"}},
		"no such kind":  {"date": {"2026-05-02"}, "plants": {"12"}, "event": {"dance"}},
		"half a pot":    {"date": {"2026-05-02"}, "plants": {"12"}, "event": {"repot"}, "pot_top": {"120"}},
	} {
		code, page := b.post(t, "/events", bad)
		assert.Equal(t, 422, code, name)
		assert.Contains(t, page, "hint", name)
	}
	assert.Equal(t, events, b.file(t, "events.csv"))
}

// Corrections change the numbers of the photo they are about, are written down with old and new value, and can be taken
// back.
func TestCorrectionsAreKeptAndReversible(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg")
	sha := b.sha(t, "012_2026-03_L.jpg")
	before, other := b.value(t, "012_2026-03_L.jpg", "leaf_area"), b.value(t, "012_2026-04_L.jpg", "leaf_area")
	code, page := b.post(t, "/photo/"+sha+"/correct", url.Values{"offset_mm": {"40"}, "plant": {"12"}, "date": {"2026-03-07"}, "counts": {"yes"}, "reason": {"plant stood before the card"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "Corrected and measured again.")
	// A plane nearer to the camera by 40 of about 700 mm is seen larger, so that the same picture means less area.
	assert.InDelta(t, 0.89, b.value(t, "012_2026-03_L.jpg", "leaf_area")/before, 0.02)
	assert.Equal(t, other, b.value(t, "012_2026-04_L.jpg", "leaf_area"), "the other photo is not touched")
	assert.Equal(t, 2, strings.Count(b.file(t, "corrections.csv"), "\n"), "what was not changed is not written")

	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	k := s.c.Corrections[0]
	done()
	assert.Equal(t, "0", k.Old)
	assert.Equal(t, "40", k.New)
	code, page = b.post(t, "/corrections/undo", url.Values{"line": {itoa(k.Line)}, "time": {k.Time}})
	require.Equal(t, 200, code, page)
	assert.Equal(t, before, b.value(t, "012_2026-03_L.jpg", "leaf_area"))
	assert.Equal(t, 3, strings.Count(b.file(t, "corrections.csv"), "\n"), "taking back adds a line")

	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"no"}})
	assert.Equal(t, 422, code, "an exclusion needs a reason")
	code, page = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"no"}, "reason": {"wind"}})
	require.Equal(t, 200, code)
	assert.Contains(t, page, "wind")
	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"yes"}})
	require.Equal(t, 200, code)
	assert.Equal(t, before, b.value(t, "012_2026-03_L.jpg", "leaf_area"))
	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"plant": {"44"}})
	require.Equal(t, 200, code)
	_, page = b.get(t, "/plant/44")
	assert.Contains(t, page, sha)
	code, _ = b.post(t, "/corrections/undo", url.Values{"line": {"2"}, "time": {"1999-01-01"}})
	assert.Equal(t, 409, code)
}

// While another phototrack writes, the desk says so, and changes nothing.
func TestAnotherWriterIsNamed(t *testing.T) {
	b := serve(t)
	c, err := collection.Open(b.dir)
	require.NoError(t, err)
	lock, err := c.Lock()
	require.NoError(t, err)
	before := b.file(t, "events.csv")
	code, page := b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {"12"}, "event": {"feed"}})
	assert.Equal(t, 409, code)
	assert.Contains(t, page, "being written by another phototrack")
	assert.Equal(t, before, b.file(t, "events.csv"))
	code, _ = b.get(t, "/")
	assert.Equal(t, 200, code, "reading goes on")
	require.NoError(t, lock.Close())
	code, _ = b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {"12"}, "event": {"feed"}})
	assert.Equal(t, 200, code)
}

// A plate can be composed as picture, moving picture and PDF, is only written when it is saved, and then never over
// another.
func TestPlatesOfEveryForm(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg", "044_2026-04_L.jpg")
	for form, magic := range map[string]string{"picture": "\x89PNG", "moving": "GIF8", "pdf": "%PDF"} {
		code, page := b.post(t, "/plates", url.Values{"plant": {"12"}, "preset": {"a4"}, "form": {form}})
		require.Equal(t, 200, code, page)
		_, id, ok := strings.Cut(page, `name="save" value="`)
		require.True(t, ok, form)
		id, _, _ = strings.Cut(id, `"`)
		code, data := b.get(t, "/draft/"+id)
		assert.Equal(t, 200, code, form)
		assert.True(t, strings.HasPrefix(data, magic), form)
		assert.NoDirExists(t, filepath.Join(b.dir, "reports", platesDir, form))
		for range 2 {
			code, page = b.post(t, "/plates", url.Values{"save": {id}})
			require.Equal(t, 200, code, page)
		}
	}
	saved, err := os.ReadDir(filepath.Join(b.dir, "reports", platesDir))
	require.NoError(t, err)
	assert.Len(t, saved, 6)
	code, page := b.post(t, "/plates", url.Values{"plant": {"12", "44"}, "date": {"2026-04"}, "preset": {"wide"}})
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "plate_012_leaf_044_leaf_wide.png")
	for name, bad := range map[string]url.Values{
		"no plant":       {"preset": {"wide"}},
		"no such preset": {"plant": {"12"}, "preset": {"../wide"}},
		"no such plant":  {"plant": {"99"}, "preset": {"wide"}},
		"no such view":   {"plant": {"12"}, "preset": {"wide"}, "view": {"soil"}},
		"no photo":       {"plant": {"23"}, "preset": {"wide"}},
	} {
		code, _ := b.post(t, "/plates", bad)
		assert.Equal(t, 422, code, name)
	}
	code, _ = b.post(t, "/plates", url.Values{"save": {"../../x"}})
	assert.Equal(t, 410, code)
}

// A photo whose tag is not in the list finds its place when the plant is added, without being dropped again.
func TestAddingAPlantGivesItsPhotosAPlace(t *testing.T) {
	b := serve(t)
	plants := b.file(t, "plants.csv")
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "plants.csv"), []byte(strings.Replace(plants, "45,Aspidistra", "46,Another", 1)), 0o644))
	data, err := os.ReadFile("../../samples/photos/045_2026-03_L.jpg")
	require.NoError(t, err)
	code, _, text := b.drop(t, map[string][]byte{"045_2026-03_L.jpg": data})
	require.Equal(t, 200, code, text)
	s := b.settle(t)
	require.Len(t, s.Photos, 1)
	assert.Equal(t, "flagged", s.Photos[0].Status)
	_, page := b.get(t, "/unsorted")
	assert.Contains(t, page, "045_2026-03_L.jpg")
	code, page = b.post(t, "/plants", url.Values{"number": {"45"}, "name": {"Aspidistra"}})
	require.Equal(t, 200, code, page)
	s = b.settle(t)
	require.Len(t, s.Photos, 1, "it was measured anew")
	assert.Equal(t, "accepted", s.Photos[0].Status)
	_, page = b.get(t, "/plant/45")
	assert.Contains(t, page, "045_2026-03_L.jpg")
	_, page = b.get(t, "/unsorted")
	assert.Contains(t, page, "every photo has its plant")
}

// A photo without a card is shown with its reason and what to do, and can be given a plant.
func TestPhotoWithoutCard(t *testing.T) {
	b := serve(t)
	var png bytes.Buffer
	grey := image.NewGray(image.Rect(0, 0, 800, 600))
	for i := range grey.Pix {
		grey.Pix[i] = 128
	}
	require.NoError(t, imagepng.Encode(&png, grey))
	code, _, text := b.drop(t, map[string][]byte{"2026-05-09 <b>grey.png": png.Bytes()})
	require.Equal(t, 200, code, text)
	s := b.settle(t)
	require.Len(t, s.Photos, 1)
	assert.Equal(t, "rejected", s.Photos[0].Status)
	require.NotEmpty(t, s.Photos[0].Reasons)
	assert.NotEmpty(t, s.Photos[0].Reasons[0].Hint)
	_, page := b.get(t, "/unsorted")
	assert.Contains(t, page, s.Photos[0].SHA)
	code, page = b.get(t, "/photo/"+s.Photos[0].SHA)
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "No scale card was found")
	assert.NotContains(t, page, "<b>grey")
	code, page = b.post(t, "/photo/"+s.Photos[0].SHA+"/correct", url.Values{"plant": {"12"}})
	assert.Equal(t, 200, code, page)
	_, page = b.get(t, "/photo/"+s.Photos[0].SHA)
	assert.Contains(t, page, "Clivia A")
}
