package desk

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

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
