package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
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

	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
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
func (b *bench) value(t testing.TB, name string, quantity record.QuantityName) float64 {
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
