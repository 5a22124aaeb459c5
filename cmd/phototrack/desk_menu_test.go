package main

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// menu is a desktop session: a home folder, a session's folder, and a browser that only notes what it is to show.
type menu struct {
	home, run, tools, shown string
}

func newMenu(t *testing.T) *menu {
	t.Helper()
	dir := t.TempDir()
	m := &menu{filepath.Join(dir, "home"), filepath.Join(dir, "run"), filepath.Join(dir, "tools"), filepath.Join(dir, "shown")}
	for _, d := range []string{m.home, m.run, m.tools} {
		require.NoError(t, os.Mkdir(d, 0o700))
	}
	m.install(t, "xdg-open", `echo "$1" >> '`+m.shown+`'`)
	return m
}

func (m *menu) install(t *testing.T, name, script string) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(m.tools, name), []byte("#!/bin/sh\n"+script+"\n"), 0o755))
}

// click starts the program as the menu's entry does, with nowhere to write to.
func (m *menu) click(t *testing.T) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(bin, "desk", "--from-menu")
	cmd.Env = []string{"HOME=" + m.home, "XDG_RUNTIME_DIR=" + m.run, "PATH=" + m.tools}
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { cmd.Process.Kill() })
	return cmd
}

// sees waits for the n-th address that the browser was given.
func (m *menu) sees(t *testing.T, n int) string {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		data, _ := os.ReadFile(m.shown)
		if lines := strings.Split(strings.TrimSpace(string(data)), "\n"); len(lines) >= n && lines[n-1] != "" {
			return lines[n-1]
		}
	}
	t.Fatal("nothing was shown")
	return ""
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	jar, err := cookiejar.New(nil) // a browser of its own
	require.NoError(t, err)
	r, err := (&http.Client{Jar: jar}).Get(url)
	require.NoError(t, err)
	defer r.Body.Close()
	assert.Equal(t, 200, r.StatusCode)
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return string(data)
}

func TestFirstStartFromTheMenuMakesACollectionAndExplains(t *testing.T) {
	m := newMenu(t)
	first := m.click(t)
	address := m.sees(t, 1)
	assert.Contains(t, address, "/start?")
	page := fetch(t, address)
	assert.Contains(t, page, filepath.Join(m.home, "Phototrack"))
	assert.FileExists(t, filepath.Join(m.home, "Phototrack", "plants.csv"))

	// A second click shows the same desk, and leaves at once.
	require.NoError(t, m.click(t).Wait())
	again := m.sees(t, 2)
	origin, _, _ := strings.Cut(address, "/start?")
	assert.True(t, strings.HasPrefix(again, origin+"/?"), again)
	assert.Contains(t, fetch(t, again), "</html>")
	r, err := http.Get(again)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 403, r.StatusCode, "what a browser is started with stands in the list of processes: it works once")
	notes, err := os.ReadDir(m.run)
	require.NoError(t, err)
	require.Len(t, notes, 1)
	st, err := notes[0].Info()
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), st.Mode().Perm(), "the address lets in who knows it")
	noted, err := os.ReadFile(filepath.Join(m.run, notes[0].Name()))
	require.NoError(t, err)
	for _, shown := range []string{address, again} {
		_, key, _ := strings.Cut(shown, "key=")
		assert.NotContains(t, string(noted), key, "the lasting key is no browser's argument")
	}

	require.NoError(t, first.Process.Signal(syscall.SIGTERM))
	require.NoError(t, first.Wait())
	notes, err = os.ReadDir(m.run)
	require.NoError(t, err)
	assert.Empty(t, notes)
}

func TestANoteOfAKilledDeskIsNotTrusted(t *testing.T) {
	m := newMenu(t)
	first := m.click(t)
	dead := m.sees(t, 1)
	require.NoError(t, first.Process.Kill())
	first.Wait()
	second := m.click(t)
	alive := m.sees(t, 2)
	assert.NotEqual(t, dead, alive)
	assert.NotContains(t, alive, "/start?", "the explanation comes once")
	fetch(t, alive)
	require.NoError(t, second.Process.Signal(syscall.SIGTERM))
	require.NoError(t, second.Wait())
}

func TestAStartThatFailsSaysSoInTheBrowser(t *testing.T) {
	m := newMenu(t)
	other := filepath.Join(m.home, "Phototrack")
	require.NoError(t, os.Mkdir(other, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(other, "<b>letters.odt"), nil, 0o644))
	cmd := m.click(t)
	address := m.sees(t, 1)
	page := fetch(t, address)
	assert.Contains(t, page, "could not start")
	assert.Contains(t, page, "&lt;b&gt;letters.odt")
	assert.Contains(t, page, "Give that folder another name")
	r, err := http.Get(address[:strings.LastIndex(address, "/")+1])
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, 404, r.StatusCode, "only the browser that was sent there sees it")
	assert.Error(t, cmd.Wait())
	assert.Equal(t, exitFailed, cmd.ProcessState.ExitCode(), "it leaves once the page was fetched")
}

func TestWithoutABrowserADialogSaysIt(t *testing.T) {
	m := newMenu(t)
	m.install(t, "xdg-open", "exit 3")
	m.install(t, "kdialog", `echo "$4" >> '`+m.shown+`'`)
	require.NoError(t, os.WriteFile(filepath.Join(m.home, "Phototrack"), nil, 0o644))
	cmd := m.click(t)
	assert.Contains(t, m.sees(t, 1), "could not start")
	assert.Error(t, cmd.Wait())

	require.NoError(t, os.Remove(filepath.Join(m.home, "Phototrack")))
	require.NoError(t, os.Remove(m.shown))
	cmd = m.click(t)
	assert.Contains(t, m.sees(t, 1), "no browser")
	assert.True(t, strings.HasPrefix(m.sees(t, 2), "http://127.0.0.1:"), "the address to open by hand")
	require.NoError(t, cmd.Process.Signal(syscall.SIGTERM))
	require.NoError(t, cmd.Wait())
}

func TestADeskEndsWithItsSession(t *testing.T) {
	note := deskNote(filepath.Join(t.TempDir(), "note"))
	require.NoError(t, note.write("http://127.0.0.1:1/?key=a"))
	ended := make(chan struct{})
	go note.watch(context.Background(), 5*time.Millisecond, func() { close(ended) })
	select {
	case <-ended:
		t.Fatal("ended while the note was there")
	case <-time.After(60 * time.Millisecond):
	}
	note.remove("another address")
	assert.FileExists(t, string(note))
	note.remove("http://127.0.0.1:1/?key=a")
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Fatal("still open")
	}
}
