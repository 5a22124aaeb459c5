// Package browsertest opens pages in headless Chromium for tests: a fresh profile each time, a note of everything
// the page complained about or asked others for, and the few steps that tests of pages share. Where no Chromium is
// installed a test is skipped, but not in CI, where it fails.
package browsertest

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Patience is how long one step in the browser may take.
const Patience = 40 * time.Second

// Browser is one headless Chromium with one page.
type Browser struct {
	ctx  context.Context
	home string // addresses that begin so are the page's own
	out  string // folder for screenshots; empty: none are kept

	mu         sync.Mutex
	complaints []string
	strangers  []string
}

// Open starts a browser that lasts as long as the test. Addresses that begin with home (a server's address, or "file:")
// and data: addresses are the page's own; requests to any other are noted. Screenshots go to the folder out, if it is
// not empty.
func Open(t *testing.T, home, out string) *Browser {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	b := &Browser{ctx: ctx, home: home, out: out}
	require.NoError(t, chromedp.Listen(ctx, b.listen))
	return b
}

func chromium(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"} {
		if _, err := os.Stat(p); err == nil {
			return p
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("chromium is not installed")
	}
	t.Skip("chromium is not installed")
	return ""
}

func (b *Browser) listen(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *runtime.EventExceptionThrown:
		b.complaints = append(b.complaints, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		b.complaints = append(b.complaints, string(e.Type))
	case *log.EventEntryAdded:
		b.complaints = append(b.complaints, e.Entry.Text+" "+e.Entry.URL)
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, b.home) {
			b.strangers = append(b.strangers, u)
		}
	}
}

// Quiet asserts that the page complained of nothing and asked nobody else for anything.
func (b *Browser) Quiet(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(t, b.complaints, "console")
	assert.Empty(t, b.strangers, "requests to others")
}

// Forgive drops the complaints that contain a text: those that a test meant to provoke.
func (b *Browser) Forgive(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var rest []string
	for _, c := range b.complaints {
		if !strings.Contains(c, text) {
			rest = append(rest, c)
		}
	}
	b.complaints = rest
}

// Do takes steps one after another.
func (b *Browser) Do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	require.NoError(t, b.Try(steps...))
}

// Try takes steps and gives their error, for those that may be taken again.
func (b *Browser) Try(steps ...chromedp.Action[chromedp.Void]) error {
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	return chromedp.Do(ctx, steps...)
}

// Get runs one action and gives its value.
func Get[T any](t *testing.T, b *Browser, a chromedp.Action[T]) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	v, err := chromedp.Run(ctx, a)
	require.NoError(t, err)
	return v
}

// Eval gives the value of a JavaScript expression; a promise is waited for.
func Eval[T any](t *testing.T, b *Browser, js string) T {
	t.Helper()
	return Get(t, b, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
}

// Call sends one command of the DevTools protocol and gives its answer.
func Call[P, R any](t *testing.T, b *Browser, c cdp.Command[P, R], params P) R {
	t.Helper()
	return Get(t, b, func(ctx context.Context, tg *chromedp.Target) (R, error) { return cdp.Call(ctx, tg, c, params) })
}

// Until waits until an expression is true. When it does not become so, what the page shows is in the failure.
func (b *Browser) Until(t *testing.T, js string) {
	t.Helper()
	for give := time.Now().Add(Patience); time.Now().Before(give); time.Sleep(40 * time.Millisecond) {
		if b.Holds(js) {
			return
		}
	}
	b.mu.Lock()
	complaints := slices.Clone(b.complaints)
	b.mu.Unlock()
	require.Fail(t, "never true: "+js, "the page says: %s\ncomplaints: %q", b.text(`JSON.stringify({at: location.href, state: document.readyState,
		busy: (document.getElementById("busy") || {}).textContent, focus: (document.activeElement || {}).outerHTML, text: document.body.innerText})`), complaints)
}

// Holds says whether an expression is true now.
func (b *Browser) Holds(js string) bool {
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js))
	return err == nil && ok
}

func (b *Browser) text(js string) string {
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	s, err := chromedp.Run(ctx, chromedp.Evaluate[string](js))
	if err != nil {
		return err.Error()
	}
	return s
}

// phonePx is the width of a window, px, below which it counts as a phone's.
const phonePx = 600

// Size sets the window's size in px, below 600 px as a phone's, and whether the page is asked for its dark colours.
func (b *Browser) Size(t *testing.T, width, height int64, dark bool) {
	t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	Call(t, b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < phonePx})
	Call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
}

// Scripts switches the page's own scripts on or off.
func (b *Browser) Scripts(t *testing.T, on bool) {
	t.Helper()
	Call(t, b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
}

// decodeAll loads and decodes every picture of the page, those far below as well.
const decodeAll = `Promise.all(Array.from(document.images).map(i=>{i.loading="eager"; return i.decode().catch(()=>0)})).then(()=>1)`

// Shoot keeps a screenshot NAME.png of the window or of the whole page, if Open was given a folder for them.
func (b *Browser) Shoot(t *testing.T, name string, whole bool) {
	t.Helper()
	if b.out == "" {
		return
	}
	Eval[int](t, b, decodeAll)
	what := chromedp.CaptureScreenshot()
	if whole {
		what = chromedp.FullScreenshot(100)
	}
	require.NoError(t, os.WriteFile(filepath.Join(b.out, name+".png"), Get(t, b, what), 0o644))
}

// Sideways is how many px the page is wider than its window: a JavaScript expression.
const Sideways = `document.documentElement.scrollWidth - document.documentElement.clientWidth`

// tooWide names what stands out at the right and is not in a region that scrolls by itself.
const tooWide = `Array.from(document.querySelectorAll("body *")).filter(e=>!e.closest(".scroll *,svg *,.pane *,.slider *")&&e.getBoundingClientRect().right>document.documentElement.clientWidth+1).slice(0,8).map(e=>e.tagName+"."+e.getAttribute("class")+" "+e.textContent.trim().slice(0,40))`

// NoSideways asserts that the page does not scroll sideways, and names what is too wide if it does.
func (b *Browser) NoSideways(t *testing.T, page string) {
	t.Helper()
	assert.LessOrEqual(t, Eval[int](t, b, Sideways), 0, "%s is too wide for its window because of %v", page, Eval[[]string](t, b, tooWide))
}
